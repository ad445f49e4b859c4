"""What can be known beforehand: the power of a plan's alarm, what a retest would tell, staggered starts.

Each class is also one table of the warehouse.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanPower:
    """How many stays the off-plan alarm has called by one weekly look, at one gap below the planned rate."""

    per_week: int  # weigh-ins
    gap_rate: float  # kg a week below the plan, from the plan's first day on; 0 is exactly on plan
    week: int  # of the plan
    called: float  # share of the stays
    standard_error: float  # of the share, from the number of simulated stays
    n_stays: int
    day_sd: float  # kg, of one weigh-in around the trend: water and scale
    level_sd: float  # kg per root day, the trend's own wander
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
class GuardRetest:
    """What so many more test days within the latest ones would do to a test beside a weight plan."""

    plan_id: str
    measure: str
    line: str
    role: str
    asks: str  # "slower" | "up"
    extra: int
    chance_now: float  # that it is slower by the margin, or up
    chance_then: float  # the same, where the new days show what the latest ones did
    chance_sure: float  # chance that it is then at least as sure as the decision table asks
    chance_not: float  # chance that it is then more likely not so
    method: str
