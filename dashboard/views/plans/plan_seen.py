"""What the board said about a plan when it was decided about: kept with the decision."""

from __future__ import annotations

from latewood.pipeline.stats.plans.results import PlanReview


def observed_of(review: PlanReview) -> dict[str, object]:
    """The numbers and the status that stood on the screen, in kg and kg a week."""
    return {
        "as_of": review.as_of.isoformat(),
        "status": review.status,
        "trend_kg": review.trend_kg,
        "rate": review.rate,
        "rate_low": review.rate_low,
        "rate_high": review.rate_high,
        "chance_target": review.chance_target,
    }
