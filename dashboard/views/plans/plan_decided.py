"""What was decided about a plan and what happened since; and whether it waits for somebody again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from latewood.dashboard.text.wording import Scale, count_of, day, full_day, with_unit
from latewood.dashboard.views.plans.plan_case import PlanCase
from latewood.pipeline.ingest.logs.planlog import PAUSE, REFER, REFUSED, PlanEvent
from latewood.pipeline.stats.plans.results import PlanReview, PlanSince
from latewood.pipeline.stats.plans.rules import OUT_OF_REACH, STATUSES

IN_WORDS = {OUT_OF_REACH: "target unlikely by its date"}  # where the key of a status is no word for a screen
ASKS = ("0", "1", "6", "7", "8", "9")  # rows of the table that ask for a change though the rate is on plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where a plan stands between two looks."""

    waits: bool
    waits_for: str  # why somebody has to look, '' where nobody has to
    decided: str  # the last decision in words, '' where there is none
    short: str  # the same for a row of a table: what and when
    since: str  # what body mass did since
    stopped: str  # 'Paused' or 'Referred', '' where the plan runs


def standing_of(case: PlanCase, today: date, scale: Scale) -> Standing:
    """The standing of one plan."""
    review, advice, decisions = case.review, case.advice, case.decisions
    asks = review.needs_decision or (advice is not None and advice.table_row in ASKS)
    if not decisions:
        reason = "no decision yet" if asks else ""
        return Standing(waits=asks, waits_for=reason, decided="", short="", since="", stopped="")
    last, since = decisions[-1], {one.event_id: one for one in case.since}
    reason = _waits_for(review, last, today)
    return Standing(
        waits=bool(reason),
        waits_for=reason,
        decided=decided_text(last),
        short=f"decided {day(last.on)}: {'not taken up' if last.kind == REFUSED else last.decision}",
        since=since_text(since.get(last.event_id), last, scale),
        stopped={PAUSE: "Paused", REFER: "Referred"}.get(last.decision, ""),
    )


def _waits_for(review: PlanReview, last: PlanEvent, today: date) -> str:
    if last.review_on is not None and last.review_on <= today:
        return f"review was due on {day(last.review_on)}"
    observed = str(dict(last.facts.get("seen") or {}).get("status", ""))
    if review.needs_decision and observed != review.status and _place(review.status) < _place(observed):
        return f"worse than when it was decided ({IN_WORDS.get(observed, observed) or 'not known'})"
    return ""


def _place(status: str) -> int:
    return STATUSES.index(status) if status in STATUSES else len(STATUSES)


def decided_text(event: PlanEvent) -> str:
    """One decision in words: what, when, by whom, until when, why."""
    if event.kind == REFUSED:
        return f"Not taken up, {full_day(event.on)}, by {event.by}: nobody under 18 is told to eat less. Decide again."
    review = f"; review {day(event.review_on)}" if event.review_on else ""
    return f"{event.decision.capitalize()}, {full_day(event.on)}, by {event.by}{review}: {event.note}"


def since_text(found: PlanSince | None, event: PlanEvent, scale: Scale) -> str:
    """The rate before and after a decision with their intervals, or why it cannot be given yet."""
    if found is None:
        return f"What came of it shows after the next build; decided on {day(event.on)}."
    before = _rate(found.rate_before, found.before_low, found.before_high, scale)
    if found.rate_after is None:
        return f"Before: {before}. Since: too early ({found.reason})."
    after = _rate(found.rate_after, found.after_low, found.after_high, scale)
    return (
        f"Before: {before}. Since: {after}, {count_of(found.n_after, 'weigh-in')} in {found.days_after} days."
    )


def _rate(rate: float | None, low: float | None, high: float | None, scale: Scale) -> str:
    if rate is None or low is None or high is None:
        return "not known"
    number = scale.change(rate, 1).split("\u00a0")[0]
    return f"{with_unit(number, f'{scale.unit}/wk')} ({scale.interval(low, high, 1)})"
