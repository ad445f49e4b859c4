"""What the case of one stay is made from: rows of the published build, the focus log and the coach's own words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, fields
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import duckdb

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import case_words, focus
from latewood.pipeline.ingest.logs.case_words import CaseWords
from latewood.pipeline.ingest.logs.focus import Focus
from latewood.pipeline.ingest.logs.planlog import current_log, hidden_masses
from latewood.pipeline.ingest.program import Program, load_program, program_catalogue
from latewood.pipeline.stats.change.results import MeasurementError, RetestAdvice, Trend
from latewood.pipeline.stats.links.results import AccountRow, AthleteLink
from latewood.pipeline.stats.plans.results import MassTrend
from latewood.pipeline.stats.projection.results import Projection
from latewood.pipeline.warehouse.connection import open_published, read_sql
from latewood.pipeline.warehouse.schema import table_of

Row = TypeVar("Row")


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseStay:
    """One stay with its athlete and camp."""

    stay_id: str
    athlete_id: str
    name: str
    sport: str | None
    positions: str | None
    camp: str
    arrived_on: date
    left_on: date | None
    planned_until: date
    left_early: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseValue:
    """One measure of one session of the stay, in the canonical unit."""

    held_on: date
    is_intake: bool
    measure: str
    line: str
    value: float
    n_trials: int
    imports: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseObservation:
    """What a coach rated on a day."""

    observed_on: date
    measure: str
    rating: str
    import_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseRecord:
    """One stay as far as its case needs it."""

    program: Program
    catalogue: Catalogue
    build_id: str
    code_version: str
    program_name: str
    invented: bool
    stay: CaseStay
    values: Sequence[CaseValue] = ()
    observations: Sequence[CaseObservation] = ()
    trends: Sequence[Trend] = ()
    links: Sequence[AthleteLink] = ()
    account: Sequence[AccountRow] = ()
    projections: Sequence[Projection] = ()
    retests: Sequence[RetestAdvice] = ()
    mass: Sequence[MassTrend] = ()
    errors: Mapping[tuple[str, str], float | None] = field(default_factory=dict)  # minimal_change_one
    labels: Mapping[tuple[str, str], str] = field(default_factory=dict)
    focus: Sequence[Focus] = ()
    words: Mapping[str, CaseWords] = field(default_factory=dict)
    hides_mass: bool = False  # the athlete asked not to be shown their mass

    @property
    def today(self) -> date:
        """The date at the program's place."""
        return self.program.today()


def read_case(root: Path, athlete_id: str, stay_id: str = "") -> CaseRecord:
    """Return what the case of an athlete's stay is made from; of the latest stay where none is named.

    Raises SummaryError where there is no such athlete or stay, NothingPublishedError where nothing was built.
    """
    program, catalogue = load_program(root), program_catalogue(root)
    with closing(open_published(root)) as connection:
        build = connection.execute(read_sql("read/summary_build.sql")).fetchall()[0]
        stay = _stay(connection, athlete_id, stay_id)
        errors = _rows(connection, MeasurementError)
        return CaseRecord(
            program=program, catalogue=catalogue, build_id=build[0], code_version=build[2], program_name=build[3],
            invented=build[4], stay=stay,
            values=_asked(connection, CaseValue, "case_values", stay.stay_id),
            observations=_asked(connection, CaseObservation, "case_observations", stay.stay_id),
            trends=_rows(connection, Trend, stay.stay_id), links=_rows(connection, AthleteLink, stay.stay_id),
            account=_rows(connection, AccountRow, stay.stay_id),
            projections=_rows(connection, Projection, stay.stay_id),
            retests=_rows(connection, RetestAdvice, stay.stay_id), mass=_rows(connection, MassTrend, stay.stay_id),
            errors={(one.measure, one.line): one.minimal_change_one for one in errors},
            labels={(r[0], r[1]): r[2] for r in connection.execute(read_sql("read/summary_lines.sql")).fetchall()},
            focus=focus.of_athlete(root, athlete_id), words=case_words.in_force(root, stay.stay_id),
            hides_mass=athlete_id in hidden_masses(current_log(root)),
        )  # fmt: skip


def _stay(connection: duckdb.DuckDBPyConnection, athlete_id: str, stay_id: str) -> CaseStay:
    found = connection.execute(read_sql("read/case_stays.sql"), {"athlete": athlete_id}).fetchall()
    stays = _made(CaseStay, [row for row in found if row[0] is not None])
    if not found:
        raise SummaryError(f"athlete {athlete_id!r} is not on any roster; see `latewood athletes`")
    if not stays:
        raise SummaryError(
            f"athlete {athlete_id!r} has no stay on record, so there is no case; import a stays file"
        )
    wanted = [one for one in stays if one.stay_id == stay_id] if stay_id else [stays[-1]]
    if not wanted:
        raise SummaryError(
            f"athlete {athlete_id!r} has no stay {stay_id!r}; give one of {', '.join(s.stay_id for s in stays)}"
        )
    return wanted[0]


def _asked(
    connection: duckdb.DuckDBPyConnection, kind: type[Row], name: str, stay_id: str
) -> tuple[Row, ...]:
    return _made(kind, connection.execute(read_sql(f"read/{name}.sql"), {"stay": stay_id}).fetchall())


def _rows(connection: duckdb.DuckDBPyConnection, kind: type[Row], stay_id: str = "") -> tuple[Row, ...]:
    """The rows of a table of results, of one stay where one is named, in a fixed order."""
    columns = ", ".join(f'"{one.name}"' for one in fields(kind))  # type: ignore[arg-type]
    where, given = ("where stay_id = $stay", {"stay": stay_id}) if stay_id else ("", None)
    statement = " ".join(("select", columns, "from", table_of(kind), where, "order by all"))
    return _made(kind, connection.execute(statement, given).fetchall())


def _made(kind: type[Row], found: Sequence[tuple[Any, ...]]) -> tuple[Row, ...]:
    names = [one.name for one in fields(kind)]  # type: ignore[arg-type]
    return tuple(kind(**dict(zip(names, row, strict=True))) for row in found)
