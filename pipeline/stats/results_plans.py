"""What is worked out about weight plans beside their review. Each class is also one table of the warehouse.

Mass in kg, rates in kg a week, other values in the measure's canonical unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanGuard:
    """One test of an athlete on a plan, first test days against the latest: does it keep pace, does it suffer."""

    plan_id: str
    measure: str
    line: str
    role: str  # strength | strength per kg | split | output
    n_before: int
    n_after: int
    before_on: date  # the last of the first test days
    after_on: date  # the latest test day
    before: float  # mean of sessions; strength per kg is a ratio
    after: float
    change: float
    standard_error: float
    chance_better: float
    chance_worse: float  # by more than `margin`
    margin: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanAdvice:
    """The first matching row of the weekly decision table for one plan."""

    plan_id: str
    table_row: str  # 0 to 14 of the table, or barred, above, unlikely, open
    words: str
    offered: str
    why: str
    height_change: float | None  # cm since the plan began


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanState:
    """Mass and rate of a stay at its last weigh-in, enough to work out chances of other targets and dates."""

    stay_id: str
    plan_id: str  # '' where the stay has no plan
    as_of: date
    kg: float
    kg_se: float
    rate: float
    rate_se: float
    covariance: float  # of mass and rate
    level_sd: float  # wander of mass, kg per root day
    rate_sd: float  # wander of the rate, kg a week per root day


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSince:
    """The rate of mass before and after one decision about a plan."""

    event_id: str
    plan_id: str
    decided_on: date
    n_before: int
    rate_before: float | None
    before_low: float | None
    before_high: float | None
    n_after: int
    days_after: int
    rate_after: float | None
    after_low: float | None
    after_high: float | None
    reason: str  # why a rate cannot be given, else ''
    level: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthStage:
    """Where a young athlete stands to the growth peak, in three wide classes; never a number."""

    athlete_id: str
    as_of: date
    stage: str  # before | around | after the growth peak | uncertain
    method: str
    reason: str
