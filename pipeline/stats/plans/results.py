"""What is worked out about weight plans, and the body mass they are judged by."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


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
class PooledVariance:
    """One of the numbers that body mass was filtered with, pooled over all stays."""

    name: str  # level_sd, rate_sd, water_sd, persistence, reading_sd, start_rate, start_rate_sd; course_… for holds
    value: (
        float  # kg, kg a week and days, as the name says; course_hold and course_restart are chances a week
    )


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
    rate: float | None  # kg per week, mean since the plan began, of the last three weeks at most
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
    alarm_from: float | None = None  # chance_below_plan from which this plan is called off plan
    alarm_share: float | None = None  # share of athletes exactly on this plan who ever are, over its weeks


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPower:
    """How many stays the off-plan alarm has called by one weekly look, at one gap below the planned rate."""

    per_week: int  # weigh-ins
    plan_weeks: int  # length of the plan that the limit was set for
    gap_rate: float  # kg a week below the plan, from the plan's first day on; 0 is exactly on plan
    week: int  # of the plan
    called: float  # share of the stays
    standard_error: float  # of the share, from the number of simulated stays
    alarm_from: float  # the limit: a chance to be below the planned rate
    n_stays: int
    day_sd: float  # kg, of one weigh-in around the trend: water and scale
    level_sd: float  # kg per root day, the trend's own wander
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardRetest:
    """What so many more test days would do to a test beside a weight plan that is not sure either way."""

    plan_id: str
    measure: str
    line: str
    role: str  # strength, split, output
    asks: str  # slower | up
    extra: int  # more test days within two weeks of the latest one
    chance_now: float  # that it is slower by the margin, or up
    chance_then: float  # the same, where the new days show what the latest ones did
    chance_sure: float  # chance that it is then at least as sure as the decision table asks
    chance_not: float  # chance that it is then more likely not so
    method: str


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
    change: float  # strength per kg: relative
    standard_error: float
    chance_better: float
    chance_worse: float  # by more than `margin`
    margin: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanAdvice:
    """The first matching row of the weekly decision table for each plan."""

    plan_id: str
    table_row: str  # 0 to 14 of the table, barred, above, unlikely, or open where no row matches
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
    rate: float  # kg per week
    rate_se: float
    covariance: float  # of mass and rate
    level_sd: float  # wander of mass, kg per root day
    rate_sd: float  # wander of the rate, kg a week per root day
    # the same where mass is held at present, and how likely that is
    held: float = 0.0  # chance that mass is held
    held_kg: float = 0.0
    held_kg_se: float = 0.0
    held_rate: float = 0.0  # at which it would gain again, kg per week
    held_rate_se: float = 0.0
    held_covariance: float = 0.0
    hold_chance: float = 0.0  # from one week to the next, where it moves
    restart_chance: float = 0.0  # where it is held
    rate_known: bool = True  # False where weigh-ins are too few for a rate: it is the program's usual one


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSince:
    """The rate of mass before and after each decision about a plan."""

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
