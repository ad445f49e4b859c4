"""One plan with all that is judged about it: its review, its version now, the rows of its stay, advice, decisions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from latewood.dashboard.reads.rows import Plan
from latewood.pipeline.ingest.logs.planlog import PlanEvent, decisions_of
from latewood.pipeline.stats.plans.results import MassTrend, PlanAdvice, PlanReview, PlanSince, WeighinUse

OfStay = TypeVar("OfStay", MassTrend, WeighinUse)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRecord:
    """Everything the board is made from."""

    reviews: Sequence[PlanReview]
    plans: Sequence[Plan]
    mass: Sequence[MassTrend]
    weighins: Sequence[WeighinUse]
    advice: Sequence[PlanAdvice] = ()
    since: Sequence[PlanSince] = ()
    events: Sequence[PlanEvent] = ()
    hidden: frozenset[str] = frozenset()
    provisional: frozenset[str] = frozenset()  # athletes with a typed weigh-in that no build holds yet


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCase:
    """One reviewed plan; `decisions` are its own, the oldest first, and `since` what came of them."""

    review: PlanReview
    plan: Plan
    mass: Sequence[MassTrend]
    weighins: Sequence[WeighinUse]
    advice: PlanAdvice | None
    decisions: Sequence[PlanEvent]
    since: Sequence[PlanSince]
    hidden: bool  # the athlete has their mass hidden
    provisional: bool = False  # rests on a typed weigh-in that no build holds yet


def cases_of(record: PlanRecord) -> tuple[PlanCase, ...]:
    """The reviewed plans of a record, in the order of their reviews."""
    plans = {plan.plan_id: plan for plan in record.plans}
    advice = {one.plan_id: one for one in reversed(record.advice)}
    mass, weighins, decisions = _by_stay(record.mass), _by_stay(record.weighins), decisions_of(record.events)
    return tuple(
        PlanCase(
            review=review,
            plan=plans[review.plan_id],
            mass=mass.get(review.stay_id, []),
            weighins=weighins.get(review.stay_id, []),
            advice=advice.get(review.plan_id),
            decisions=decisions.get(review.plan_id, []),
            since=record.since,
            hidden=review.athlete_id in record.hidden,
            provisional=review.athlete_id in record.provisional,
        )
        for review in record.reviews
        if review.plan_id in plans
    )


def _by_stay(rows: Iterable[OfStay]) -> dict[str, list[OfStay]]:
    """The rows of each stay, in their order."""
    result: dict[str, list[OfStay]] = {}
    for row in rows:
        result.setdefault(row.stay_id, []).append(row)
    return result
