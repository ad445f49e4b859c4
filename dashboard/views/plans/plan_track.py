"""The corridor of one plan: weigh-ins, smoothed mass and the plan's line, in the unit shown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from latewood.dashboard.text.wording import Scale
from latewood.dashboard.views.plans.plan_case import PlanCase
from latewood.dashboard.views.plans.plan_facts import mass_now
from latewood.pipeline.catalogue.scales import MINUS

Z95 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One corridor; x counts days since the plan's start, y is in the unit shown, or a share where mass is hidden."""

    start: date
    axis: str
    hidden: bool
    weighins: tuple[tuple[float, float, bool], ...]
    trend: tuple[tuple[float, float, float, float], ...]  # day, value, low, high
    plan: tuple[tuple[float, float], ...]
    today: float
    alt: str


def build_track(case: PlanCase, scale: Scale) -> Track:
    """The corridor of one plan, from the rows of its stay."""
    review, plan, hidden = case.review, case.plan, case.hidden
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
        for row in case.mass
    )
    track = Track(
        start=start,
        axis="body mass, numbers hidden" if hidden else f"body mass, {scale.unit}",
        hidden=hidden,
        weighins=tuple((at(row.measured_on), scale.of(row.kg), row.used) for row in case.weighins),
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
    return _as_shares(track) if hidden else track


def _as_shares(track: Track) -> Track:
    """The same course in shares of its own span: what is sent to a browser holds no mass."""
    values = [value for _, value, _ in track.weighins] + [value for _, value in track.plan]
    values += [end for _, _, low, high in track.trend for end in (low, high)]
    low, span = min(values), (max(values) - min(values)) or 1.0

    def share(value: float) -> float:
        return round((value - low) / span, 3)

    return replace(
        track,
        weighins=tuple((at, share(value), used) for at, value, used in track.weighins),
        trend=tuple((at, share(value), share(least), share(most)) for at, value, least, most in track.trend),
        plan=tuple((at, share(value)) for at, value in track.plan),
    )
