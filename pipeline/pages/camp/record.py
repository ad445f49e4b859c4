"""What the review of one camp is made from, read from the published build in one go."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.program import Program, load_program, program_catalogue
from latewood.pipeline.stats.change.results import CohortGain
from latewood.pipeline.warehouse.connection import open_published, read_sql


@dataclass(frozen=True, slots=True, kw_only=True)
class CampRow:
    """One camp."""

    camp_id: str
    label: str
    starts_on: date
    ends_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class StayRow:
    """One athlete at the camp. The birth date is used for the age band and never shown; `gained` is in kg."""

    stay_id: str
    athlete_id: str
    arrived_on: date
    left_on: date | None
    planned_until: date
    left_early: bool
    positions: str | None
    sex: str | None
    birth_date: date | None
    gained: float | None
    training_group: str | None = None
    leave_reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRow:
    """One athlete's own change over the stay in one line, in the canonical unit."""

    stay_id: str
    measure: str
    line: str
    change: float | None
    weeks: float
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WayRow:
    """That a way of measuring was used in a camp."""

    camp_id: str
    measure: str
    own_line: str
    line: str
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeRow:
    """An offset that joins two ways of measuring, in the canonical unit."""

    measure: str
    from_line: str
    to_line: str
    shift: float
    shift_se: float
    n_pairs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkRow:
    """What goes with a kilogram of added mass within athletes at equal time, over the whole program."""

    measure: str
    line: str
    per_kg: float | None
    low: float | None
    high: float | None
    level: float
    n_athletes: int
    verdict: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CampRecord:
    """One published build as far as the review of one camp needs it."""

    program: Program
    catalogue: Catalogue
    build_id: str
    catalogue_digest: str
    code_version: str
    program_name: str
    invented: bool
    camp: CampRow
    camps: Sequence[CampRow]
    stays: Sequence[StayRow]
    gains: Sequence[CohortGain]
    changes: Sequence[ChangeRow]
    ways: Sequence[WayRow]
    bridges: Sequence[BridgeRow]
    links: Mapping[tuple[str, str], LinkRow]
    labels: Mapping[tuple[str, str], str]
    errors: Mapping[tuple[str, str], float | None]
    estimated: Mapping[tuple[str, str], tuple[int, int]] = field(
        default_factory=dict
    )  # all values, estimated ones


def camp_ids(root: Path) -> tuple[str, ...]:
    """The ids of the camps of the published build, oldest first."""
    with closing(open_published(root)) as connection:
        return tuple(row[0] for row in connection.execute(read_sql("read/review_camps.sql")).fetchall())


def read_camp(root: Path, camp_id: str) -> CampRecord:
    """Return what the review of one camp is made from.

    Raises SummaryError where there is no such camp, NothingPublishedError where nothing was built.
    """
    program, catalogue = load_program(root), program_catalogue(root)

    def rows(name: str, **parameters: str) -> list[tuple[Any, ...]]:
        return connection.execute(read_sql(f"read/{name}.sql"), parameters or None).fetchall()

    with closing(open_published(root)) as connection:
        build = rows("summary_build")[0]
        camps = _made(CampRow, rows("review_camps"))
        camp = next((one for one in camps if one.camp_id == camp_id), None)
        if camp is None:
            raise SummaryError(
                f"there is no camp {camp_id!r}; give one of {', '.join(c.camp_id for c in camps)}"
            )
        links = _made(LinkRow, rows("review_links"))
        return CampRecord(
            program=program, catalogue=catalogue, build_id=build[0], catalogue_digest=build[1],
            code_version=build[2], program_name=build[3], invented=build[4], camp=camp, camps=camps,
            stays=_made(StayRow, rows("review_stays", camp=camp_id)),
            gains=_made(CohortGain, rows("review_gains", camp=camp_id)),
            changes=_made(ChangeRow, rows("review_changes", camp=camp_id)),
            ways=_made(WayRow, rows("review_ways")),
            bridges=_made(BridgeRow, rows("review_bridges")),
            links={(one.measure, one.line): one for one in links},
            labels={(r[0], r[1]): r[2] for r in rows("summary_lines")},
            errors={(r[0], r[1]): r[2] for r in rows("summary_errors")},
            estimated={(r[0], r[1]): (r[2], r[3]) for r in rows("review_estimated", camp=camp_id)},
        )  # fmt: skip


def _made(kind: type[Any], found: Sequence[tuple[Any, ...]]) -> tuple[Any, ...]:
    names = tuple(kind.__dataclass_fields__)
    return tuple(kind(**dict(zip(names, row, strict=True))) for row in found)
