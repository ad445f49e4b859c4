"""Rows of the warehouse as the screens read them; result tables use the classes of latewood.pipeline.stats.results."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from latewood.pipeline.access import Viewer


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildRow:
    """The published build: when it was made and from what."""

    build_id: str
    made_at: datetime
    seconds: float
    code_version: str
    program_name: str
    invented: bool
    clock: date | None
    n_athletes: int
    n_readings: int
    n_open: int
    n_checked: int  # fits made again by an independent program
    largest_difference: float | None  # between the two, in standard errors


@dataclass(frozen=True, slots=True, kw_only=True)
class Build(BuildRow):
    """The published build as one viewer opened it: what every read needs, so that none goes without a viewer."""

    opened_by: Viewer

    @property
    def viewer(self) -> Viewer:
        """Who looks, asked anew each time: a fragment keeps its build for hours. Raises SignInError."""
        return self.opened_by.now()


@dataclass(frozen=True, slots=True, kw_only=True)
class Athlete:
    """One athlete of the roster; the birth date is used for the age only and never shown."""

    athlete_id: str
    display_name: str
    birth_date: date | None
    sex: str | None
    sport: str | None
    graduation_year: int | None
    positions: str | None
    bats: str | None
    throws: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Camp:
    """One camp."""

    camp_id: str
    label: str
    starts_on: date
    ends_on: date
    place: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """One athlete at one camp, from intake to exit."""

    stay_id: str
    athlete_id: str
    camp_id: str
    arrived_on: date
    left_on: date | None
    planned_until: date
    left_early: bool
    leave_reason: str | None
    training_group: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureRow:
    """One measure as the build used it; values are in `unit`."""

    measure: str
    label: str
    family: str
    unit: str
    better: str
    kind: str
    resolution: float
    decimals: int
    trials: int
    summary: str
    keep: int
    source: str
    position: int
    published: str = ""  # what studies report, a line each


@dataclass(frozen=True, slots=True, kw_only=True)
class LineRow:
    """One line: readings that may be compared."""

    measure: str
    line: str
    label: str
    joined_to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """The offset between two lines, from days on which the same athletes were measured both ways."""

    measure: str
    from_line: str
    to_line: str
    shift: float | None
    shift_se: float | None
    n_pairs: int
    usable: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionValue:
    """One measure of one session."""

    athlete_id: str
    stay_id: str | None
    camp_id: str | None
    held_on: date
    weeks: float | None
    is_intake: bool
    measure: str
    line: str
    own_line: str
    value: float
    shift: float
    best: float
    n_trials: int
    imports: str
    set_load: float | None = None  # of the set behind a best trial that was estimated, canonical unit
    set_reps: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildAt:
    """Height and body mass of one stay, by the last day the height was measured."""

    athlete_id: str
    stay_id: str
    on_date: date
    height_cm: float
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One movement observation of a coach."""

    observed_on: date
    measure: str
    rating: str
    import_id: str
    line: str = ""
    rater: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One version of a weight plan."""

    plan_id: str
    version: int
    athlete_id: str
    stay_id: str | None
    start_on: date
    start_kg: float
    target_on: date
    target_kg: float
    ended_on: date | None
    purpose: str | None
    made_by: str | None
    approved_by: str | None
    reason: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportRow:
    """One imported file and what became of its rows."""

    import_id: str
    file_name: str
    kind: str
    mapping: str
    received_at: datetime
    received_by: str
    rows_in: int
    rows_taken: int
    rows_held: int
    rows_recognised: int
    rows_rejected: int
    withdrawn: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRow:
    """One row that waits for a steward."""

    held_id: str
    import_id: str
    file_name: str
    row_no: int
    field: str
    rule: str
    reason: str
    athlete_text: str | None
    athlete_id: str | None
    measure: str | None
    measured_on: date | None
    raw_value: str | None
    raw_unit: str | None
    proposal: str
    proposed_value: float | None
    proposed_text: str | None
    group_id: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionRow:
    """One decision of a steward as the build replayed it."""

    decision_id: str
    decided_at: datetime
    decided_by: str
    action: str
    target: str
    argument: str | None
    why: str
    applied: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedRow:
    """One verdict of one athlete, as the boards count it."""

    athlete_id: str
    n_sessions: int
    planned_sessions: int
    z: float | None
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How one athlete's verdicts of one stay are spread."""

    athlete_id: str
    stay_id: str
    n_gain: int
    n_loss: int
    n_unclear: int
    n_few: int
    last_on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementReading:
    """One segment's peak speed or time in one trial."""

    measured_on: date
    action: str
    event: str
    trial: int
    measure: str
    line: str
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementDoubt:
    """Peak speeds of one segment and day that wait for a decision."""

    measured_on: date
    measure: str
    rule: str
    reason: str
    n: int
