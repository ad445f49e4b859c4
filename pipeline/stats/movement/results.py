"""The order in which segments peak; each class is a table."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class PeakOrder:
    """How often the segments of one day peaked in the order of the chain: one pair of neighbours, or all of them."""

    athlete_id: str
    measured_on: date
    action: str
    line: str  # what was alike: action, sensor class, event
    part: str  # segments in the order of the chain, '>' between; '' where there is no verdict at all
    is_whole: bool  # all segments measured that day, and not one pair of neighbours
    n: int  # trials that have every segment of the part
    n_order: int
    n_together: int  # no pair out of order, but one within the tie window
    n_out: int
    n_trials: int  # trials of the day
    share: float | None  # in order, of n
    low: float | None
    high: float | None
    lag_ms: float | None  # middle of later minus earlier peak; pairs only
    tie_ms: float | None  # peaks closer than this count as together
    design_effect: float | None  # by how much days differ more than chance would make trials differ
    missing: str  # segments of the chain that were not measured, ',' between
    out_trials: str  # trials out of order, ',' between
    verdict: str  # given | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderChange:
    """The share of trials in order on the latest day against the first and against the one before."""

    athlete_id: str
    action: str
    line: str
    part: str
    is_whole: bool
    since: str  # first | previous
    from_on: date
    to_on: date
    n_from: int
    n_to: int
    share_from: float | None
    share_to: float | None
    difference: float | None
    low: float | None
    high: float | None
    design_effect: float | None
    verdict: str  # more often in order | less often in order | no clear change | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRepeatability:
    """How far trials agree on the order beyond chance: within a day, and between days of the same athlete."""

    action: str
    line: str
    part: str
    is_whole: bool
    n_athletes: int
    n_sessions: int
    n_trials: int
    within_day: float | None  # Krippendorff's alpha, ordinal: 1 perfect, 0 as by chance
    within_low: float | None
    within_high: float | None
    n_returning: int  # athletes with two days or more
    across_days: float | None
    across_low: float | None
    across_high: float | None
    verdict: str  # given | refused
    reason: str
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RaterAgreement:
    """How far two raters agree beyond chance in one kind of observation, from days on which both rated an athlete."""

    measure: str
    rater_a: str
    rater_b: str
    n_pairs: int
    n_athletes: int
    n_same: int  # pairs with the same word
    n_far: int  # pairs with the two ends of the scale
    kappa: float | None  # linear weights: 1 perfect, 0 as by chance
    low: float | None
    high: float | None
    verdict: str  # given | refused
    reason: str
    level: float
    method: str
