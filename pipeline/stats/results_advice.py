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
