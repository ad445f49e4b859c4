"""What changed for an athlete or a camp, and how far two sessions differ when nothing did."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementError:
    """How far two sessions differ when nothing changed, for one measure and line."""

    measure: str
    line: str
    basis: str  # "own repeats" | "shrunk to the measure" | "catalogue" | "not known"
    typical_error: float | None
    low: float | None
    high: float | None
    trial_sd: float | None
    minimal_change_one: float | None  # 95 %, one session against one session
    minimal_change_three: float | None  # 95 %, one session against the mean of three
    smallest_worthwhile: float | None
    icc: float | None
    n_athletes: int
    n_sessions: int
    degrees: float
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One athlete's change over one stay in one line: the test (own line) and the size (shrunk)."""

    athlete_id: str
    stay_id: str
    camp_id: str
    measure: str
    line: str
    n_sessions: int
    planned_sessions: int  # with those still to come by the end of the stay, at the camp's usual distance
    n_trials: int
    first_on: date
    last_on: date
    weeks: float  # that the change spans, so without an intake day that was left out
    first_value: float
    last_value: float
    fitted_start: float | None  # of the line below, where it begins; it ends at fitted_start + change
    change: float | None  # own least-squares line over the stay
    low: float | None
    high: float | None
    rate_per_week: float | None
    rate_low: float | None
    rate_high: float | None
    z: float | None
    probability_better: float | None
    sized_change: float | None  # shrunk towards the cohort (BLUP); for size, never for the test
    sized_low: float | None
    sized_high: float | None
    verdict: str  # clear gain | clear loss | clear rise | clear fall | not clear yet | too few sessions
    reason: str
    intake_used: bool
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CohortGain:
    """What one camp gained in one line, adjusted for the intake day, leavers included."""

    camp_id: str
    measure: str
    line: str
    n_enrolled: int
    n_measured: int
    n_with_exit: int
    n_left_early: int
    weeks: float | None
    gain: float | None
    low: float | None
    high: float | None
    shrunk_gain: float | None
    shrunk_low: float | None
    shrunk_high: float | None
    as_measured: (
        float | None
    )  # the gain where the first day counts as any other, if nobody can tell it from gain
    as_measured_low: float | None
    as_measured_high: float | None
    raw_gain: float | None  # last minus first of those with an exit test: shown beside, never instead
    raw_low: float | None  # Student's interval of that mean
    raw_high: float | None
    spread: float | None  # SD of true gains between athletes
    camps_differ: bool | None
    verdict: str  # estimated | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RetestAdvice:
    """What so many more test days would do to a change that is not clear yet, in a stay that still runs."""

    athlete_id: str
    stay_id: str
    measure: str
    line: str
    extra: int  # more test days
    weeks_apart: float  # of the new days, from the last one on: as the line is usually tested
    sure_now: float  # chance that the change has the direction it shows
    sure_then: float  # the same, where the new days show what the athlete's own line ends with
    clear_then: bool  # whether the verdict would then be clear
    chance_clear: float  # chance that the verdict is clear after these days, whatever they show
    n_sessions: int
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CampSpread:
    """How much the camps of a program truly differ in what they gain over the same weeks, in one line."""

    measure: str
    line: str
    weeks: float | None  # over which all compared camps are told; the shortest of them
    n_camps: int  # compared
    n_left_out: int  # with a gain of their own, but seen too briefly to be compared
    mean: float | None  # gain over these weeks of the program's camps
    mean_low: float | None
    mean_high: float | None
    q: float | None  # Cochran's, on n_camps - 1 degrees of freedom where camps are alike
    share: float | None  # I squared, 0 to 1
    share_low: float | None
    share_high: float | None
    spread: float | None  # tau: SD between the camps' true gains
    spread_low: float | None
    spread_high: float | None
    next_low: float | None  # true gain of one more camp of the kind
    next_high: float | None
    n_pairs: int
    n_apart: int
    verdict: str  # separated | not separated | refused
    reason: str  # why a number is missing
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CampPair:
    """What one camp gained more than another over the same weeks; intervals of all pairs of a line hold together."""

    measure: str
    line: str
    camp_id: str
    other_id: str
    weeks: float
    difference: float  # camp less other
    low: float
    high: float
    p_adjusted: float  # not below .001
    verdict: str  # separated | not separated
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NotComputed:
    """One estimate that a build had to leave out; all others of the build are as they would be without it."""

    step: str  # what was asked, in words
    measure: str  # empty where it is about all measures or about body mass
    reason: str
