"""What the statistics return. Each class is also one table of the warehouse, column for column.

All values are in the measure's canonical unit, mass in kg, time in weeks, dates are local to the camp.
`line` names readings that may stand in one line: the measure's must-match conditions, spelled out.
A number that cannot be given is None, and `reason` says why in words without units.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from pipeline.stats.results_account import AccountRow as AccountRow
from pipeline.stats.results_account import GrowthShare as GrowthShare
from pipeline.stats.results_advice import GuardRetest as GuardRetest
from pipeline.stats.results_advice import PlanPower as PlanPower
from pipeline.stats.results_advice import RetestAdvice as RetestAdvice
from pipeline.stats.results_camps import CampPair as CampPair
from pipeline.stats.results_camps import CampSpread as CampSpread
from pipeline.stats.results_link_camps import LinkSpread as LinkSpread
from pipeline.stats.results_missing import NotComputed as NotComputed
from pipeline.stats.results_order import OrderChange as OrderChange
from pipeline.stats.results_order import OrderRepeatability as OrderRepeatability
from pipeline.stats.results_order import PeakOrder as PeakOrder
from pipeline.stats.results_peers import PeerStage as PeerStage
from pipeline.stats.results_plans import GrowthStage as GrowthStage
from pipeline.stats.results_plans import PlanAdvice as PlanAdvice
from pipeline.stats.results_plans import PlanGuard as PlanGuard
from pipeline.stats.results_plans import PlanSince as PlanSince
from pipeline.stats.results_plans import PlanState as PlanState
from pipeline.stats.results_scores import PastProjection as PastProjection
from pipeline.stats.results_scores import ProjectionScore as ProjectionScore
from pipeline.stats.results_size import SizeExponent as SizeExponent
from pipeline.stats.results_staggered import StaggeredLink as StaggeredLink
from pipeline.stats.results_strength import MassOrStrength as MassOrStrength
from pipeline.stats.results_strength import RelativeStrength as RelativeStrength
from pipeline.stats.results_strength import StrengthLink as StrengthLink


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
    raw_gain: float | None  # last minus first of those with an exit test: shown beside, never instead
    spread: float | None  # SD of true gains between athletes
    camps_differ: bool | None
    verdict: str  # estimated | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MassLink:
    """Change of an output per kg of the athlete's own added mass, at equal time in the program."""

    scope: str  # "program" or a camp_id
    measure: str
    line: str
    adjustment: str  # "time" | "none" | "time and strength"
    per_kg: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    between_per_kg: float | None  # across athletes; a different question, shown beside
    n_athletes: int
    n_sessions: int
    inflation: float | None  # variance inflation of mass on time within athletes
    time_form: str
    verdict: str  # estimated | not told from zero | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteLink:
    """One athlete's observed change beside the change that goes with their added mass."""

    athlete_id: str
    stay_id: str
    measure: str
    line: str
    observed: float | None
    observed_low: float | None
    observed_high: float | None
    mass_change: float | None
    mass_change_low: float | None
    mass_change_high: float | None
    expected: float | None
    expected_low: float | None
    expected_high: float | None
    left_over: float | None
    left_over_low: float | None
    left_over_high: float | None
    n_sessions: int
    verdict: str  # estimated | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PeerStanding:
    """Where an athlete's latest value stands among athletes of similar age, height and mass."""

    athlete_id: str
    measure: str
    line: str
    as_of: date
    value: float
    percentile: float | None  # 0-100, higher always means better (or more, where neither is better)
    low: float | None
    high: float | None
    n_effective: float
    n_pool: int
    distance: float | None  # of the athlete from the middle of the pool, Mahalanobis
    reference: str
    verdict: str  # shown | shown with caution | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PeerNeighbour:
    """One of the peers nearest in build: listed, never themselves the percentile."""

    athlete_id: str
    measure: str
    line: str
    peer_id: str
    weight: float
    value: float
    age_years: float
    height_cm: float
    mass_kg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Projection:
    """A value expected at a date or at a body mass, with the interval for one new session."""

    athlete_id: str
    stay_id: str
    measure: str
    line: str
    kind: str  # "date" | "mass"
    made_on: date
    target_on: date | None
    target_kg: float | None
    value: float | None
    low: float | None
    high: float | None
    form: str  # log | linear | quadratic | last value
    n_sessions: int
    n_athletes: int
    verdict: str  # shown | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MassTrend:
    """Body mass of one day of one stay: live (only what was known that day) and smoothed."""

    athlete_id: str
    stay_id: str
    on_date: date
    kg: float
    kg_se: float
    rate: float  # kg per week
    rate_se: float
    smoothed_kg: float
    smoothed_se: float
    smoothed_rate: float
    smoothed_rate_se: float
    n_weighins: int  # so far in the stay


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighinUse:
    """Whether one weigh-in entered the mass trend, and if not, why."""

    athlete_id: str
    stay_id: str
    measured_on: date
    kg: float
    used: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanReview:
    """One weight plan on the day of its latest weigh-in."""

    plan_id: str
    athlete_id: str
    stay_id: str
    as_of: date
    n_weighins: int
    weighins_two_weeks: int
    weeks_in: float
    weeks_left: float
    trend_kg: float | None
    trend_low: float | None
    trend_high: float | None
    rate: float | None  # kg per week
    rate_low: float | None
    rate_high: float | None
    rate_percent: float | None  # of body mass per week
    planned_rate: float
    ceiling_rate: float | None
    needed_rate: float | None
    line_kg: float | None  # the plan's own line on that day
    forecast_kg: float | None
    forecast_low: float | None
    forecast_high: float | None
    chance_target: float | None
    chance_below_plan: float | None
    chance_above_ceiling: float | None
    chance_losing: float | None
    reachable_kg: float | None  # at the ceiling by the target date
    extra_weeks: float | None  # the target date would move by this much at the ceiling
    status: str
    needs_decision: bool
    false_alarm: float | None  # share of stays on plan that ever raise this status
    reason: str
    level: float
    method: str
