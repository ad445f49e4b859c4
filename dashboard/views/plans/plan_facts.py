"""The facts of one weight plan in words: now, rate, target, last weigh-in, what the ceiling allows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import ceil

from latewood.dashboard.reads.rows import Plan
from latewood.dashboard.text.wording import (
    THIN,
    Scale,
    chance_text,
    count_of,
    day,
    full_day,
    level_text,
    plain_number,
    signed_number,
    with_unit,
)
from latewood.pipeline.stats.plans.results import PlanReview
from latewood.pipeline.stats.plans.weighin import PACE_DAYS

HIDDEN = "hidden at the athlete's wish"
PACE_WEEKS = PACE_DAYS // 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """The numbers of one plan for a row of a table; '' where there is none yet."""

    rate: str
    span: str  # the range of the rate, without its unit
    chance: str
    weighed: str
    weighins: str


def short_facts(review: PlanReview, today: date, scale: Scale, *, hidden: bool = False) -> Short:
    """Rate with its range, chance to reach the target and last weigh-in; the rate as a share where mass is hidden."""
    rate = span = ""
    if hidden and review.rate_percent is not None:
        rate = f"{signed_number(review.rate_percent, 2)}{THIN}%/wk"
    if not hidden and review.rate is not None:
        rate = with_unit(signed_number(scale.of(review.rate), 2), f"{scale.unit}/wk")
        span = _span(review, scale)
    return Short(
        rate=rate,
        span=span,
        chance="" if review.chance_target is None else chance_text(review.chance_target),
        weighed=_weighed(review, today),
        weighins=f"{review.weighins_two_weeks} in two weeks",
    )


def _weighed(review: PlanReview, today: date) -> str:
    since = (today - review.as_of).days
    return "today" if since <= 0 else f"{count_of(since, 'day')} ago"


def _span(review: PlanReview, scale: Scale) -> str:
    if review.rate_low is None or review.rate_high is None:
        return ""
    return f"{signed_number(scale.of(review.rate_low), 2)} to {signed_number(scale.of(review.rate_high), 2)}"


def hidden_facts(review: PlanReview, plan: Plan, today: date) -> tuple[tuple[str, str], ...]:
    """The facts of an athlete who hides their mass: no mass, rates as a share of it only."""
    share = "not known yet"
    if review.rate_percent is not None:
        share = f"{signed_number(review.rate_percent, 2)}{THIN}% of body mass a week"
    chance = "" if review.chance_target is None else f": {chance_text(review.chance_target)} chance"
    return (
        ("Mass", HIDDEN),
        ("Rate", share),
        ("Target", f"by {day(plan.target_on)}{chance}"),
        ("Last weigh-in", _weighed(review, today)),
    )


def plan_facts(review: PlanReview, plan: Plan, today: date, scale: Scale) -> tuple[tuple[str, str], ...]:
    """Label and value of what a coach looks at first."""
    planned = with_unit(signed_number(scale.of(review.planned_rate), 2), f"{scale.unit}/wk")
    chance = "" if review.chance_target is None else f"{chance_text(review.chance_target)} chance; "
    facts = (
        ("Now", mass_now(review, scale)),
        ("Rate", _rate(review, scale)),
        ("Target", f"{scale.text(plan.target_kg)} by {day(plan.target_on)}: {chance}plan {planned}"),
        ("Last weigh-in", f"{_weighed(review, today)}; {review.weighins_two_weeks} in two weeks"),
    )
    reach = _reachable(review, plan, scale)
    return (*facts, ("At the ceiling", reach)) if reach else facts


def mass_now(review: PlanReview, scale: Scale) -> str:
    """The trend now, and where it stands beside the plan line."""
    if review.trend_kg is None:
        return "no trend yet"
    beside = ""
    if review.line_kg is not None:
        gap = review.trend_kg - review.line_kg
        where = (
            "on the plan line"
            if abs(gap) < 0.05
            else f"{scale.text(abs(gap))} {'above' if gap > 0 else 'below'} line"
        )
        beside = f", {where}"
    return f"{scale.text(review.trend_kg)}{beside}"


def _rate(review: PlanReview, scale: Scale) -> str:
    unit = f"{scale.unit}/wk"
    if review.rate is None:
        return "not known yet"
    rate = with_unit(signed_number(scale.of(review.rate), 2), unit)
    between = _span(review, scale)
    span = f" ({between})" if between else ""
    share = "" if review.rate_percent is None else f", {signed_number(review.rate_percent, 2)}{THIN}%/wk"
    over = f"last {PACE_WEEKS} weeks" if review.weeks_in >= PACE_WEEKS else "since the plan began"
    return f"{rate}{span}{share}, {over}"


def _reachable(review: PlanReview, plan: Plan, scale: Scale) -> str:
    if review.needed_rate is None or review.ceiling_rate is None or review.reachable_kg is None:
        return ""
    if review.needed_rate <= review.ceiling_rate or not review.needs_decision:
        return ""
    later = ""
    if review.extra_weeks is not None and review.extra_weeks > 0:
        later = f", or the target {_later(review.extra_weeks)}"
    needed = with_unit(signed_number(scale.of(review.needed_rate), 2), f"{scale.unit}/wk")
    return (
        f"{scale.text(review.reachable_kg)} by {day(plan.target_on)}{later} (the target now needs {needed})"
    )


def _later(weeks: float) -> str:
    """How much later, in days where it is less than a week: "0.1 weeks" is a day."""
    if weeks < 1.0:
        return f"{count_of(ceil(7 * weeks), 'day')} later"
    return f"{plain_number(weeks, 1)} weeks later"


def small_print(review: PlanReview, plan: Plan, scale: Scale) -> str:
    """The plan itself, who made and approved it, and what the numbers rest on."""
    parts = [
        f"plan {plan.plan_id} version {plan.version}",
        f"{scale.text(plan.start_kg)} on {full_day(plan.start_on)} to {scale.text(plan.target_kg)} on "
        f"{full_day(plan.target_on)}",
        plan.purpose or "",
        f"made by {plan.made_by}" if plan.made_by else "",
        f"approved by {plan.approved_by}" if plan.approved_by else "approval not on record",
        f"{level_text(review.level)} ranges from {count_of(review.n_weighins, 'weigh-in')}, as of "
        f"{full_day(review.as_of)}",
    ]
    return "; ".join(part for part in parts if part)
