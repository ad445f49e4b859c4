"""Every active weight plan, those that need a decision first, and how many alarms to expect by chance."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from dashboard.rows import Athlete, Plan, Stay
from dashboard.views.lookup import Lookup
from dashboard.views.plan_facts import mass_now, plan_facts, small_print
from dashboard.wording import (
    MINUS,
    Scale,
    chance_text,
    count_of,
    full_day,
    mass_scale,
)
from pipeline.stats.plan_rules import ON_PLAN, STALLED, TOO_FAST
from pipeline.stats.plan_words import false_alarm
from pipeline.stats.results import MassTrend, PlanReview, WeighinUse

OfStay = TypeVar("OfStay", MassTrend, WeighinUse)
Z95 = 1.959964
YOUNGEST = 14  # years; no weight plan below
# In the order in which a strength coach needs them; each with what may be decided.
STATUS_WORDS: Mapping[str, tuple[str, str]] = {
    "refer": (
        "Stop and refer",
        "Not a training question: pause the plan and talk with a doctor or dietitian.",
    ),
    "not allowed": ("No plan allowed", "End the plan and follow growth only."),
    "too fast": ("Too fast", "Lower the rate; look again in two weeks."),
    "losing": ("Losing mass", "Ask about food, sleep and attendance; bring in the dietitian."),
    "stalled": (
        "Stalled",
        "Lower the target, move the date, or end the plan; look at strength and output first.",
    ),
    "behind": (
        "Behind the plan",
        "Keep, lower the target or move the date; the rate may not pass the ceiling.",
    ),
    "target out of reach": ("Target out of reach", "Lower the target, move the date, or end the plan."),
    "past its date": ("Past its date", "End the plan or write a new version."),
    "reached": ("Target reached", "Hold, and turn to strength and power."),
    "too few weigh-ins": ("We cannot see", "No judgement: three to five fasted mornings a week are needed."),
    "too early to tell": ("Too early to tell", "Keep going: under three weeks no rate can be judged."),
    "on plan": ("On plan", "Keep."),
}
UNLIKELY = 0.25  # below this chance of the target a plan without alarm is not called on plan
NO_ALARM = (
    "No alarm",
    "Keep for now, but the target is unlikely by its date: prepare the talk about target or date.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One corridor, in the unit shown; x counts days since the plan's start."""

    weighins: tuple[tuple[float, float, bool], ...]
    trend: tuple[tuple[float, float, float, float], ...]  # day, value, low, high
    plan: tuple[tuple[float, float], ...]
    today: float
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One plan on the board."""

    plan_id: str
    athlete_id: str
    name: str
    camp_id: str
    camp: str
    status: str
    decide: str
    needs_decision: bool
    reason: str
    facts: tuple[tuple[str, str], ...]
    alarm: str
    small_print: str
    track: Track


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """The page."""

    cards: tuple[Card, ...]
    ended: tuple[str, ...]
    head: str
    false_alarms: str
    too_young: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRecord:
    """Everything the board is made from."""

    reviews: Sequence[PlanReview]
    plans: Sequence[Plan]
    mass: Sequence[MassTrend]
    weighins: Sequence[WeighinUse]


def build_board(record: PlanRecord, camp_id: str | None, today: date, lookup: Lookup) -> Board:
    """The board of one camp (None for all): decisions first, then by status and chance to reach the target."""
    plans = {plan.plan_id: plan for plan in record.plans}
    pairs = [(review, plans[review.plan_id]) for review in record.reviews if review.plan_id in plans]
    pairs = [pair for pair in pairs if camp_id is None or _camp_of(pair[0], lookup) == camp_id]
    active = [pair for pair in pairs if is_active(pair[1], lookup.stays.get(pair[0].stay_id), today)]
    ended = [pair for pair in pairs if pair not in active]
    active.sort(key=lambda pair: _urgency(pair[0], lookup))
    mass, weighins = by_stay(record.mass), by_stay(record.weighins)
    waiting = sum(review.needs_decision for review, _ in active)
    return Board(
        cards=tuple(
            _card(review, plan, mass.get(review.stay_id, []), weighins.get(review.stay_id, []), today, lookup)
            for review, plan in active
        ),
        ended=tuple(_ended(review, plan, lookup) for review, plan in ended),
        head=f"{count_of(len(active), 'active plan')}, {waiting} need{'s' if waiting == 1 else ''} a decision.",
        false_alarms=_false_alarms([review for review, _ in active]),
        too_young=_too_young(lookup, camp_id, today),
    )


def by_stay(rows: Iterable[OfStay]) -> dict[str, list[OfStay]]:
    """The rows of each stay, in their order."""
    found: dict[str, list[OfStay]] = {}
    for row in rows:
        found.setdefault(row.stay_id, []).append(row)
    return found


def is_active(plan: Plan, stay: Stay | None, today: date) -> bool:
    """Whether the plan runs today: not ended, its date not passed, the athlete still there."""
    gone = stay is not None and stay.left_on is not None and stay.left_on < today
    return plan.ended_on is None and plan.target_on >= today and not gone


def _camp_of(review: PlanReview, lookup: Lookup) -> str:
    stay = lookup.stays.get(review.stay_id)
    return stay.camp_id if stay is not None else ""


def _urgency(review: PlanReview, lookup: Lookup) -> tuple[bool, int, float, str]:
    order = list(STATUS_WORDS)
    place = order.index(review.status) if review.status in order else len(order)
    chance = 1.0 if review.chance_target is None else review.chance_target
    return not review.needs_decision, place, chance, lookup.name(review.athlete_id)


def _false_alarms(reviews: Sequence[PlanReview]) -> str:
    """How many of these plans would ever raise an alarm if each athlete were exactly on the line."""
    expected = sum(_false_share(review) for review in reviews)
    if not reviews:
        return ""
    about = "fewer than 1" if expected < 0.95 else f"about {expected:.1f}".removesuffix(".0")
    each = "this plan" if len(reviews) == 1 else f"every one of these {len(reviews)} plans"
    return f"If {each} were exactly on its line, {about} would still raise an alarm at some time in the stay."


def _false_share(review: PlanReview) -> float:
    ceiling = review.ceiling_rate or review.planned_rate or 1.0
    share = review.planned_rate / ceiling
    return (false_alarm(STALLED, share) or 0.0) + (false_alarm(TOO_FAST, share) or 0.0)


def _too_young(lookup: Lookup, camp_id: str | None, today: date) -> tuple[str, ...]:
    present = [
        stay
        for stay in lookup.stays.values()
        if (camp_id is None or stay.camp_id == camp_id) and (stay.left_on is None or stay.left_on >= today)
    ]
    found = [lookup.athletes[stay.athlete_id] for stay in present if stay.athlete_id in lookup.athletes]
    return tuple(sorted({athlete.display_name for athlete in found if _is_under_14(athlete, today)}))


def _is_under_14(athlete: Athlete, today: date) -> bool:
    if athlete.birth_date is None:
        return False
    born = athlete.birth_date
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day)) < YOUNGEST


def _card(
    review: PlanReview,
    plan: Plan,
    mass: Sequence[MassTrend],
    weighins: Sequence[WeighinUse],
    today: date,
    lookup: Lookup,
) -> Card:
    scale = mass_scale(lookup.system)
    camp_id = _camp_of(review, lookup)
    status, decide = plan_words(review)
    return Card(
        plan_id=plan.plan_id,
        athlete_id=review.athlete_id,
        name=lookup.name(review.athlete_id),
        camp_id=camp_id,
        camp=lookup.camp_label(camp_id),
        status=status,
        decide=decide,
        needs_decision=review.needs_decision,
        reason=review.reason,
        facts=plan_facts(review, plan, today, scale),
        alarm=_alarm(review),
        small_print=small_print(review, plan, scale),
        track=build_track(review, plan, mass, weighins, scale),
    )


def status_words(status: str) -> tuple[str, str]:
    """The status in a coach's words, and what may be decided."""
    return STATUS_WORDS.get(status, (status[:1].upper() + status[1:], ""))


def _alarm(review: PlanReview) -> str:
    if review.false_alarm is None:
        return ""
    return f"raised by mistake in {chance_text(review.false_alarm)} of stays that are on plan"


def plan_words(review: PlanReview) -> tuple[str, str]:
    """The status of a review in words, and what may be decided."""
    unlikely = review.chance_target is not None and review.chance_target < UNLIKELY
    return NO_ALARM if review.status == ON_PLAN and unlikely else status_words(review.status)


def _ended(review: PlanReview, plan: Plan, lookup: Lookup) -> str:
    scale = mass_scale(lookup.system)
    now = f"last trend {scale.text(review.trend_kg)}" if review.trend_kg is not None else "no trend"
    return (
        f"{lookup.name(review.athlete_id)}: {scale.text(plan.start_kg)} to {scale.text(plan.target_kg)} by "
        f"{full_day(plan.target_on)}; {now}; {status_words(review.status)[0].lower()}"
    )


def build_track(
    review: PlanReview, plan: Plan, mass: Sequence[MassTrend], weighins: Sequence[WeighinUse], scale: Scale
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
        alt=(
            f"Body mass against the plan from {scale.text(plan.start_kg)} to {scale.text(plan.target_kg)}: "
            f"{mass_now(review, scale)}".replace(MINUS, "minus ")
        ),
    )
