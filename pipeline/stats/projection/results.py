"""What a new session is expected to show, and how past projections did."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


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
class PastProjection:
    """A value that was to be expected, from what was known on a review day, beside what came."""

    athlete_id: str
    stay_id: str
    camp_id: str
    measure: str
    line: str  # as measured: no offset between devices enters
    as_of: date  # the review: nothing dated later is in the projection
    made_on: date  # the latest session that the review knew of
    target_on: date
    horizon_weeks: float  # from made_on to target_on
    n_sessions: int
    n_stays: int
    form: str  # log | linear | quadratic | last value
    value: float
    sd: float  # of one new session, widened
    low: float
    high: float
    low_80: float
    high_80: float
    observed: float | None
    inside_80: bool | None
    inside_95: bool | None
    z: float | None
    crps: float | None
    crps_last: float | None  # of "same as last time", with the spread such guesses had until then
    outcome: str  # scored | waiting | no test
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProjectionScore:
    """How the past projections of one measure did, by how far ahead they looked."""

    measure: str
    horizon: str  # all | up to 2 weeks | 2 to 4 weeks | 4 to 8 weeks | over 8 weeks
    n_made: int
    n_waiting: int
    n_scored: int
    n_stays: int
    n_effective: int | None  # scored projections, counted as if they were independent
    inside_80: float | None  # share
    inside_80_low: float | None
    inside_80_high: float | None
    chance: float | None  # of a share at least so far from 80 %, were it truly 80 %
    inside_95: float | None
    inside_95_low: float | None
    inside_95_high: float | None
    bias: float | None  # mean of observed less foretold
    bias_low: float | None
    bias_high: float | None
    crps: float | None
    crps_last: float | None
    verdict: str  # as promised | too narrow | too wide | too few to say
    reason: str
    level: float
    method: str
