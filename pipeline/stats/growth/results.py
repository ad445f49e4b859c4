"""What of a young athlete's gain fits growth, and the stage of growth."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthShare:
    """How much of a young athlete's change in mass fits their growth in height, by the published reference."""

    athlete_id: str
    stay_id: str  # in which the later height was measured
    span: str  # "stay" | "all stays"
    first_on: date
    last_on: date
    n_heights: int
    height_change: float | None  # cm
    height_low: float | None
    height_high: float | None
    gained: float | None  # kg between the two days, by the smoothed mass
    gained_low: float | None
    gained_high: float | None
    fits_growth: float | None  # kg; same body mass index percentile for age at the height now reached
    fits_low: float | None  # measurement error of height and mass only
    fits_high: float | None
    by_age: float | None  # kg; same weight percentile for age, whatever the height did
    beyond: float | None  # gained less fits_growth
    beyond_low: float | None
    beyond_high: float | None
    verdict: str  # shown | refused
    reason: str
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
