"""What the pages are made from, read once for a whole run: people, sessions, trends, errors, projections."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Better, Catalogue, Measure
from latewood.pipeline.ingest.program import Program, load_program, program_catalogue
from latewood.pipeline.warehouse.connection import open_published, read_sql

FAMILIES = ("skill_output", "speed", "strength", "jump_power")
SIZES = (handles.STANDING_HEIGHT, handles.BODY_MASS)


@dataclass(frozen=True, slots=True, kw_only=True)
class RosterAthlete:
    """One athlete as the roster has them. The birth date is used for the age band and never shown."""

    athlete_id: str
    display_name: str
    birth_date: date | None
    sport: str | None
    graduation_year: int | None
    positions: str | None
    bats: str | None
    throws: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """One measure of one session on the scale it was measured on, in the canonical unit."""

    athlete_id: str
    held_on: date
    stay_id: str
    measure: str
    own_line: str
    line: str
    value: float
    best: float
    trials: int
    shift: float  # what a bridge adds to stand on `line`: trends are on that scale
    set_load: (
        float | None
    )  # of the set that a best trial was estimated from; None where it was lifted or measured
    set_reps: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendRow:
    """The change of one stay in one line, in the canonical unit; None with its reason where there is none."""

    change: float | None
    low: float | None
    high: float | None
    level: float
    weeks: float
    sessions: int
    planned: int
    first_on: date
    last_on: date
    fitted_start: float | None  # where the line of the change begins; it ends at fitted_start + change
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectionRow:
    """A value expected at a date, in the canonical unit."""

    value: float
    low: float
    high: float
    level: float
    target_on: date
    made_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRow:
    """How past projections of a measure did: how many met a test day, and the share inside their 95 % interval."""

    scored: int
    inside_95: float | None  # None where they are too few to say


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeSupport:
    """How well a bridge is known that joins two ways of measuring, in the canonical unit."""

    shift_se: float
    pairs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramRecord:
    """One published build as far as summaries need it, with the program's settings."""

    root: Path
    program: Program
    catalogue: Catalogue
    build_id: str
    catalogue_digest: str
    code_version: str
    program_name: str
    invented: bool
    athletes: Mapping[str, RosterAthlete]
    values: Mapping[str, Sequence[Value]]
    trends: Mapping[tuple[str, str, str, str], TrendRow]
    errors: Mapping[tuple[str, str], float | None]
    labels: Mapping[tuple[str, str], str]
    projections: Mapping[tuple[str, str, str], ProjectionRow]
    past: Mapping[str, PastRow]
    camps: Mapping[str, Sequence[str]]
    camp_of: Mapping[str, str] = field(default_factory=dict)  # stay to the name of its camp
    bridges: Mapping[tuple[str, str, str], BridgeSupport] = field(
        default_factory=dict
    )  # by measure, from, to

    @property
    def today(self) -> date:
        """The date at the program's place."""
        return self.program.today()


def may_be_shown(measure: Measure) -> bool:
    """Whether a measure can ever stand on a page: an output with a better side; no body, no movement, no ratings."""
    return (
        measure.family in FAMILIES
        and measure.exported
        and measure.kind == "number"
        and measure.better is not Better.NEITHER
    )


def read_record(root: Path) -> ProgramRecord:
    """Return what the pages of a data folder are made from.

    Raises NothingPublishedError where nothing was built.
    """
    program, catalogue = load_program(root), program_catalogue(root)
    wanted = [m.key for m in catalogue.measures.values() if may_be_shown(m) or m.key in SIZES]

    def rows(name: str, parameters: dict[str, Any] | None = None) -> list[tuple[Any, ...]]:
        return connection.execute(read_sql(f"read/summary_{name}.sql"), parameters).fetchall()

    with closing(open_published(root)) as connection:
        build = rows("build")[0]
        values: dict[str, list[Value]] = defaultdict(list)
        for row in rows("sessions", {"measures": wanted}):
            values[row[0]].append(Value(**dict(zip(Value.__dataclass_fields__, row, strict=True))))
        camps: dict[str, list[str]] = defaultdict(list)
        camp_of: dict[str, str] = {}
        for athlete_id, camp_id, stay_id, label in rows("stays"):
            camps[athlete_id].append(camp_id)
            camp_of[stay_id] = label
        return ProgramRecord(
            root=root, program=program, catalogue=catalogue,
            build_id=build[0], catalogue_digest=build[1], code_version=build[2], program_name=build[3],
            invented=build[4],
            athletes={
                r[0]: RosterAthlete(**dict(zip(RosterAthlete.__dataclass_fields__, r, strict=True)))
                for r in rows("people")
            },
            values=values,
            trends={
                r[:4]: TrendRow(**dict(zip(TrendRow.__dataclass_fields__, r[4:], strict=True)))
                for r in rows("trends")
            },
            errors={(r[0], r[1]): r[2] for r in rows("errors")},
            labels={(r[0], r[1]): r[2] for r in rows("lines")},
            projections={
                r[:3]: ProjectionRow(**dict(zip(ProjectionRow.__dataclass_fields__, r[3:], strict=True)))
                for r in rows("projections")
            },
            past={r[0]: PastRow(scored=r[1], inside_95=r[2]) for r in rows("past")},
            camps=camps, camp_of=camp_of,
            bridges={r[:3]: BridgeSupport(shift_se=r[3], pairs=r[4]) for r in rows("bridges")},
        )  # fmt: skip
