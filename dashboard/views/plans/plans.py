"""Every active weight plan, those that need a decision first, and how many alarms to expect by chance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import Athlete, Plan, Stay
from latewood.dashboard.text.wording import Scale, about_count, chance_text, count_of, full_day, mass_scale
from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.plans.plan_case import PlanCase, PlanRecord, cases_of
from latewood.dashboard.views.plans.plan_decided import Standing, standing_of
from latewood.dashboard.views.plans.plan_facts import (
    HIDDEN,
    Short,
    hidden_facts,
    plan_facts,
    short_facts,
    small_print,
)
from latewood.dashboard.views.plans.plan_track import Track as Track
from latewood.dashboard.views.plans.plan_track import build_track as build_track
from latewood.pipeline.catalogue.chances import chance_word, is_unlikely
from latewood.pipeline.stats.plans.results import PlanReview
from latewood.pipeline.stats.plans.rules import ON_PLAN, OUT_OF_REACH, REACHED, TOO_FAST, is_above
from latewood.pipeline.stats.plans.words import false_alarm

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
    "target out of reach": (
        "Target unlikely by its date",
        "Lower the target, move the date, or end the plan.",
    ),
    "past its date": ("Past its date", "End the plan or write a new version."),
    "reached": ("Target reached", "Hold, and turn to strength and power."),
    "too few weigh-ins": ("We cannot see", "No judgement: three to five fasted mornings a week are needed."),
    "too early to tell": ("Too early to tell", "Keep going: under three weeks no rate can be judged."),
    "on plan": ("On plan", "Keep."),
}
WORST, CHANCE, LAST, NAME = "worst", "chance", "last", "name"
ORDERS: Mapping[str, str] = {
    WORST: "By status, the worst on top",
    CHANCE: "Least chance to reach the target first",
    LAST: "Longest without a weigh-in first",
    NAME: "By name",
}
ABOVE = ("Above the target", "Hold the mass, no further gain: end the plan, or write its next version.")
NO_ALARM = "Keep for now; prepare the talk about target or date."


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
    standing: Standing
    table: str  # the row of the decision table in words
    reason: str
    facts: tuple[tuple[str, str], ...]
    short: Short
    alarm: str
    small_print: str
    track: Track
    provisional: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """The page."""

    cards: tuple[Card, ...]
    ended: tuple[str, ...]
    head: str
    false_alarms: str
    too_young: tuple[str, ...]


def build_board(
    record: PlanRecord, camp_id: str | None, today: date, lookup: Lookup, order: str = WORST
) -> Board:
    """The board of one camp (None for all), in one of the orders of ORDERS: by default decisions first."""
    cases = [one for one in cases_of(record) if camp_id is None or _camp_of(one.review, lookup) == camp_id]
    active = [one for one in cases if is_active(one.plan, lookup.stays.get(one.review.stay_id), today)]
    ended = [one for one in cases if one not in active]
    cards = [card_of(one, today, lookup) for one in active]
    reviews = {one.plan.plan_id: one.review for one in active}
    cards.sort(key=lambda card: _place(order, card, reviews[card.plan_id]))
    waiting = sum(card.needs_decision for card in cards)
    return Board(
        cards=tuple(cards),
        ended=tuple(_ended(one, lookup) for one in ended),
        head=f"{count_of(len(active), 'active plan')}, {waiting} need{'s' if waiting == 1 else ''} a decision.",
        false_alarms=_false_alarms([one.review for one in active]),
        too_young=_too_young(lookup, camp_id, today),
    )


def _place(order: str, card: Card, review: PlanReview) -> tuple[bool, float, float, str]:
    """Where a card stands; nothing here ranks athletes by mass."""
    statuses = list(STATUS_WORDS)
    place = float(statuses.index(review.status)) if review.status in statuses else float(len(statuses))
    if card.needs_decision and review.status == ON_PLAN:
        place = statuses.index("past its date") + 0.5  # on rate, and paying for it elsewhere
    chance = 1.0 if review.chance_target is None else review.chance_target
    if order == CHANCE:
        return False, chance, place, card.name
    if order == LAST:
        return False, float(review.as_of.toordinal()), place, card.name
    return (
        (False, 0.0, 0.0, card.name) if order == NAME else (not card.needs_decision, place, chance, card.name)
    )


def is_active(plan: Plan, stay: Stay | None, today: date) -> bool:
    """Whether the plan runs today: not ended, its date not passed, the athlete still there."""
    gone = stay is not None and stay.left_on is not None and stay.left_on < today
    return plan.ended_on is None and plan.target_on >= today and not gone


def _camp_of(review: PlanReview, lookup: Lookup) -> str:
    stay = lookup.stays.get(review.stay_id)
    return stay.camp_id if stay is not None else ""


def _false_alarms(reviews: Sequence[PlanReview]) -> str:
    """How many of these plans would ever raise an alarm if each athlete were exactly on the line."""
    expected = sum(_false_share(review) for review in reviews)
    if not reviews:
        return ""
    each = "this plan" if len(reviews) == 1 else f"every one of these {len(reviews)} plans"
    about = about_count(expected)
    return f"If {each} were exactly on its line, {about} would still raise an alarm at some time in the stay."


def _false_share(review: PlanReview) -> float:
    ceiling = review.ceiling_rate or review.planned_rate or 1.0
    return (review.alarm_share or 0.0) + (false_alarm(TOO_FAST, review.planned_rate / ceiling, 0.0) or 0.0)


def _too_young(lookup: Lookup, camp_id: str | None, today: date) -> tuple[str, ...]:
    present = [
        stay
        for stay in lookup.stays.values()
        if (camp_id is None or stay.camp_id == camp_id) and (stay.left_on is None or stay.left_on >= today)
    ]
    result = [lookup.athletes[stay.athlete_id] for stay in present if stay.athlete_id in lookup.athletes]
    return tuple(sorted({athlete.display_name for athlete in result if _is_under_14(athlete, today)}))


def _is_under_14(athlete: Athlete, today: date) -> bool:
    if athlete.birth_date is None:
        return False
    born = athlete.birth_date
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day)) < YOUNGEST


def card_of(case: PlanCase, today: date, lookup: Lookup) -> Card:
    """One plan as a card."""
    review, plan, advice, hidden = case.review, case.plan, case.advice, case.hidden
    scale, camp_id = mass_scale(lookup.system), _camp_of(review, lookup)
    standing = standing_of(case, today, scale)
    status, table = status_of(case, today, scale)
    decide = plan_words(review, plan)[1]
    return Card(
        plan_id=plan.plan_id,
        athlete_id=review.athlete_id,
        name=lookup.name(review.athlete_id),
        camp_id=camp_id,
        camp=lookup.camp_label(camp_id),
        status=status,
        decide=decide if advice is None else advice.offered,
        needs_decision=standing.waits,
        standing=standing,
        table=table,
        reason=review.reason,
        facts=hidden_facts(review, plan, today) if hidden else plan_facts(review, plan, today, scale),
        short=short_facts(review, today, scale, hidden=hidden),
        alarm=_alarm(review),
        small_print="" if hidden else small_print(review, plan, scale),
        track=build_track(case, scale),
        provisional=case.provisional,
    )


def status_of(case: PlanCase, today: date, scale: Scale) -> tuple[str, str]:
    """The status of a plan as the table words it, with the row of the decision table where that says more."""
    status, stopped = plan_words(case.review, case.plan)[0], standing_of(case, today, scale).stopped
    table = "" if case.advice is None or case.advice.words == status else case.advice.words
    return f"{stopped}: {status.lower()}" if stopped else status, table


def status_words(status: str) -> tuple[str, str]:
    """The status in a coach's words, and what may be decided."""
    return STATUS_WORDS.get(status, (status[:1].upper() + status[1:], ""))


def _alarm(review: PlanReview) -> str:
    if review.false_alarm is None:
        return ""
    return f"raised by mistake in {chance_text(review.false_alarm)} of stays that are on plan"


def plan_words(review: PlanReview, plan: Plan) -> tuple[str, str]:
    """The status of a review in words, and what may be decided; a chance in the words of the scale."""
    status, decide = status_words(review.status)
    if review.status == REACHED and review.trend_kg is not None:
        return ABOVE if is_above(review.trend_kg, plan.target_kg) else (status, decide)
    if review.chance_target is None or not is_unlikely(review.chance_target):
        return status, decide
    in_time = f"target {chance_word(review.chance_target)} by its date"
    if review.status == ON_PLAN:
        return f"No alarm, {in_time}", NO_ALARM
    return (
        (f"{in_time[:1].upper()}{in_time[1:]}", decide) if review.status == OUT_OF_REACH else (status, decide)
    )


def _ended(case: PlanCase, lookup: Lookup) -> str:
    review, plan = case.review, case.plan
    scale, words = mass_scale(lookup.system), plan_words(review, plan)[0].lower()
    if case.hidden:
        return f"{lookup.name(review.athlete_id)}: by {full_day(plan.target_on)}; mass {HIDDEN}; {words}"
    now = f"last trend {scale.text(review.trend_kg)}" if review.trend_kg is not None else "no trend"
    return (
        f"{lookup.name(review.athlete_id)}: {scale.text(plan.start_kg)} to {scale.text(plan.target_kg)} by "
        f"{full_day(plan.target_on)}; {now}; {words}"
    )
