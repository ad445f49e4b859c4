"""The corridor of one plan: weigh-ins, smoothed mass and the plan's line, in the unit shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import Plan
from latewood.dashboard.text.wording import Scale
from latewood.dashboard.views.plans.plan_facts import mass_now
from latewood.pipeline.catalogue.scales import MINUS
from latewood.pipeline.stats.plans.results import MassTrend, PlanReview, WeighinUse

Z95 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One corridor, in the unit shown; x counts days since the plan's start."""

    weighins: tuple[tuple[float, float, bool], ...]
    trend: tuple[tuple[float, float, float, float], ...]  # day, value, low, high
    plan: tuple[tuple[float, float], ...]
    today: float
    alt: str


def build_track(
    review: PlanReview,
    plan: Plan,
    mass: Sequence[MassTrend],
    weighins: Sequence[WeighinUse],
    scale: Scale,
    *,
    hidden: bool = False,
) -> Track:
    """The corridor of one plan, from the rows of its stay."""
    start = plan.start_on

    def at(on: date) -> float:
        return float((on - start).days)

    band = tuple(
        (
            at(row.on_date),
            scale.of(row.smoothed_kg),
            scale.of(row.smoothed_kg - Z95 * row.smoothed_se),
            scale.of(row.smoothed_kg + Z95 * row.smoothed_se),
        )
        for row in mass
    )
    return Track(
        weighins=tuple((at(row.measured_on), scale.of(row.kg), row.used) for row in weighins),
        trend=band,
        plan=((0.0, scale.of(plan.start_kg)), (at(plan.target_on), scale.of(plan.target_kg))),
        today=at(review.as_of),
        alt="Body mass against the plan; the numbers are hidden at the athlete's wish."
        if hidden
        else (
            f"Body mass against the plan from {scale.text(plan.start_kg)} to {scale.text(plan.target_kg)}: "
            f"{mass_now(review, scale)}".replace(MINUS, "minus ")
        ),
    )
