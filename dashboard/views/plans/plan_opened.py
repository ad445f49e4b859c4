"""One plan opened: why its status, does it pay, what energy the gap stands for, and its history."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from latewood.dashboard.reads.rows import Plan, SessionValue
from latewood.dashboard.text.wording import (
    Scale,
    chance_text,
    count_of,
    full_day,
    length_text,
    mass_scale,
    plain_number,
    signed_number,
    with_unit,
)
from latewood.dashboard.views.athlete.retest import guard_retest_words
from latewood.dashboard.views.athlete.sets import estimated_words, set_note
from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.plans.plan_decided import decided_text
from latewood.dashboard.views.plans.plan_form import NO_CHANCE
from latewood.dashboard.views.plans.plans import plan_words
from latewood.pipeline.ingest.logs.planlog import DECIDED, REFUSED, PlanEvent
from latewood.pipeline.stats.plans.guards import PER_KG, SPLIT
from latewood.pipeline.stats.plans.power import MOST_WEEKS
from latewood.pipeline.stats.plans.results import GuardRetest, PlanAdvice, PlanGuard, PlanReview
from latewood.pipeline.stats.plans.rules import OFF_PLAN, PlanSettings, is_above
from latewood.pipeline.stats.plans.whatif import FAT_KCAL, LEAN_KCAL, WhatIf, energy_gap

Z95 = 1.959964
ENERGY_STEP = 50.0  # kcal a day; nothing here is known more exactly
NO_ENERGY = {
    "0": "No energy number: this is a question for a doctor or dietitian.",
    "1": "No energy number: this is a question for a doctor or dietitian.",
    "barred": "No energy number: no plan is allowed here.",
    "3": "No energy number: too few weigh-ins to know the rate.",
    "4": "No energy number: it is too early to know the rate.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardLine:
    """One test beside the plan in words."""

    test: str
    first: str
    latest: str
    change: str
    says: str
    again: str = ""  # what testing again would tell, '' where it is sure already


def why_lines(
    review: PlanReview, plan: Plan, advice: PlanAdvice | None, settings: PlanSettings, system: str
) -> tuple[str, ...]:
    """The numbers behind the status and the rule that was applied."""
    lines = [f"{plan_words(review, plan)[0]}: {review.reason}."]
    if review.trend_kg is not None and is_above(review.trend_kg, plan.target_kg):
        away = mass_scale(system).text(review.trend_kg - plan.target_kg)
        lines.append(f"The trend stands {away} above the target.")
    if review.chance_below_plan is not None and review.chance_above_ceiling is not None:
        lines.append(
            f"Chance that the rate is below the planned one: {chance_text(review.chance_below_plan)} "
            f"(an alarm from {chance_text(review.alarm_from or settings.behind_chance)}); above the ceiling of "
            f"{settings.ceiling_percent:g} % a week: {chance_text(review.chance_above_ceiling)} "
            f"(an alarm from {chance_text(settings.too_fast_chance)})."
        )
    if review.false_alarm is not None:
        lines.append(
            f"This alarm is raised by mistake in {chance_text(review.false_alarm)} of stays exactly on plan "
            f"({_weeks_of(review)}; simulated)."
        )
    if advice is not None:
        name = f", row {advice.table_row}" if advice.table_row.isdigit() else ""
        lines.append(f"Decision table{name}: {advice.words}. {advice.offered}")
        if advice.height_change is not None and advice.height_change >= 1.0:
            lines.append(
                f"Height grew by {length_text(advice.height_change, system)} in this stay: part of the mass is growth."
            )
    return tuple(lines)


def _weeks_of(review: PlanReview) -> str:
    """Over which weekly looks a share of false alarms counts: those of the plan itself where its limit is its own."""
    if review.status not in OFF_PLAN:
        return "20 weekly looks"
    weeks = math.ceil(review.weeks_in + review.weeks_left)
    over = f"the first {MOST_WEEKS}" if weeks > MOST_WEEKS else f"the {weeks}"
    return f"weekly looks over {over} weeks of this plan"


def guard_lines(
    guards: Iterable[PlanGuard],
    lookup: Lookup,
    retests: Sequence[GuardRetest] = (),
    values: Sequence[SessionValue] = (),
) -> tuple[GuardLine, ...]:
    """The tests beside the plan, in the order strength, splits, outputs, with what testing again would tell.

    `values` are the athlete's sessions in the stay: a maximum that was not lifted names the set it came from.
    """
    return tuple(
        replace(
            _with_sets(_guard_line(one, lookup), one, values, lookup),
            again=guard_retest_words(one.measure, one.line, one.role, retests),
        )
        for one in guards
    )


def speed_line(guards: Iterable[PlanGuard], lookup: Lookup) -> str:
    """The sprint that is most likely slower, where that is as likely as not; '' otherwise."""
    splits = [one for one in guards if one.role == SPLIT and one.chance_worse >= 0.5]
    if not splits:
        return ""
    worst = max(splits, key=lambda one: one.chance_worse)
    return f"{lookup.label(worst.measure)} {_says(worst, lookup)}"


def _with_sets(
    line: GuardLine, guard: PlanGuard, values: Sequence[SessionValue], lookup: Lookup
) -> GuardLine:
    own = [
        v
        for v in values
        if (v.measure, v.line) == (guard.measure, guard.line) and v.held_on <= guard.after_on
    ]
    sets = [note for v in own if v.held_on == guard.after_on and (note := set_note(v, lookup))]
    reported = [text for text in (line.test, estimated_words(own)) if text]
    latest = f"{line.latest}; {sets[-1]}" if sets else line.latest
    return replace(line, test="; ".join(reported), latest=latest)


def _guard_line(guard: PlanGuard, lookup: Lookup) -> GuardLine:
    label = lookup.full_label(guard.measure, guard.line)
    if guard.role == PER_KG:
        first, latest = f"{guard.before:.2f}", f"{guard.after:.2f}"
        half = Z95 * guard.standard_error
        change = (
            f"{signed_number(100 * guard.change, 1)} % ({signed_number(100 * (guard.change - half), 1)} to "
            f"{signed_number(100 * (guard.change + half), 1)})"
        )
        label = f"{lookup.label(guard.measure)} over body mass"
    else:
        scale = lookup.mean_scale(guard.measure)
        half = Z95 * guard.standard_error
        first, latest = scale.text(guard.before), scale.text(guard.after)
        change = f"{scale.change(guard.change)} ({scale.interval(guard.change - half, guard.change + half)})"
    return GuardLine(
        test=label,
        first=f"{first}, {count_of(guard.n_before, 'test day')}",
        latest=f"{latest}, {count_of(guard.n_after, 'test day')} to {full_day(guard.after_on)}",
        change=change,
        says=_says(guard, lookup),
    )


def _says(guard: PlanGuard, lookup: Lookup) -> str:
    if guard.role == SPLIT:
        margin = lookup.scale(guard.measure).text(guard.margin)
        return f"slower by {margin} or more: {chance_text(guard.chance_worse)}"
    if guard.role == PER_KG:
        return f"fell by more than 3 %: {chance_text(guard.chance_worse)}"
    return f"up: {chance_text(guard.chance_better)}"


def energy_text(review: PlanReview, advice: PlanAdvice | None, scale: Scale, *, minor: bool) -> str:
    """The energy a rate gap may stand for, as a wide range, or why none is given."""
    row = advice.table_row if advice is not None else ""
    if row in NO_ENERGY or review.rate is None or review.rate_low is None or review.rate_high is None:
        return NO_ENERGY.get(row, "No energy number: the rate is not known yet.")
    gap = review.planned_rate - review.rate
    spread = (review.rate_high - review.rate_low) / 2.0 / Z95
    low, high = (round(end / ENERGY_STEP) * ENERGY_STEP for end in energy_gap(gap, spread))
    size = with_unit(signed_number(scale.of(-gap), 2), f"{scale.unit}/wk")
    if gap < 0 and minor:
        return (
            f"The rate stands {size} from the plan. For an athlete under 18 no number for eating less is given: "
            "let the dietitian set it."
        )
    if low <= 0 <= high:
        return (
            f"The rate stands {size} from the plan, and the range of what that means in energy includes zero "
            f"({signed_number(low, 0)} to {signed_number(high, 0)} kcal a day): no change can be read from it."
        )
    more = "more" if gap > 0 else "less"
    ends = sorted((abs(low), abs(high)))
    whom = "For the talk with dietitian and guardian only: " if minor else ""
    return (
        f"{whom}the gap of {size} to the plan may stand for about {ends[0]:.0f} to {ends[1]:.0f} kcal a day {more}. "
        f"Method: gap with its 80 % range, tissue of 25 to 75 % fat ({plain_number(FAT_KCAL / scale.factor, 0)} "
        f"kcal per {scale.unit} of fat, {plain_number(LEAN_KCAL / scale.factor, 0)} of lean; "
        "Hall 2008, from memory, not verified); what the body burns more when it eats more is not in it."
    )


def what_if_text(found: WhatIf, ceiling_percent: float, scale: Scale) -> str:
    """Needed rate, its share of body mass and the chance, in one sentence."""
    rate = with_unit(signed_number(scale.of(found.needed_rate), 2), f"{scale.unit}/wk")
    beyond = " — above the ceiling" if found.needed_percent > ceiling_percent + 1e-9 else ""
    needed = f"Needed: {rate}, {plain_number(found.needed_percent, 2)} % of body mass a week{beyond}."
    if found.chance is None or found.expected_kg is None or found.low is None or found.high is None:
        return f"{needed} {NO_CHANCE}"
    return (
        f"{needed} Chance to be there by the date: {chance_text(found.chance)}; "
        f"expected {scale.text(found.expected_kg)} ({scale.span(found.low, found.high)})."
    )


def history_lines(
    versions: Sequence[Plan], events: Sequence[PlanEvent], scale: Scale, *, hidden: bool
) -> tuple[str, ...]:
    """Versions of the plan and decisions about it, the latest first."""
    made = [(one.start_on, one.version, _version_text(one, scale, hidden=hidden)) for one in versions]
    lines = [text for _, _, text in sorted(made, reverse=True)]
    decided = [decided_text(one) for one in events if one.kind in {DECIDED, REFUSED}]
    return (*reversed(decided), *lines)


def _version_text(plan: Plan, scale: Scale, *, hidden: bool) -> str:
    span = "mass hidden" if hidden else f"{scale.text(plan.start_kg)} to {scale.text(plan.target_kg)}"
    ended = f"; ended {full_day(plan.ended_on)}" if plan.ended_on else ""
    words = "; ".join(
        f"{name} {text}"
        for name, text in (
            ("made by", plan.made_by), ("approved by", plan.approved_by), ("reason:", plan.reason),
        )
        if text
    )  # fmt: skip
    return (
        f"Version {plan.version}: {span}, {full_day(plan.start_on)} to {full_day(plan.target_on)}{ended}"
        f"{'; ' + words if words else ''}"
    )
