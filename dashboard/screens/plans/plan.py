"""One weight plan: why its status, does it pay, what else could be, and the decision."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.charts.card import card_facts, card_status
from latewood.dashboard.charts.corridor import corridor_key, draw_corridor
from latewood.dashboard.reads import plan_reads, warehouse
from latewood.dashboard.reads.rows import Plan
from latewood.dashboard.screens import parts, provisional_part
from latewood.dashboard.screens.plans import plan_parts
from latewood.dashboard.screens.plans.power_part import power_of_plan
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.text import cautions
from latewood.dashboard.text.wording import mass_scale, verbatim
from latewood.dashboard.views.plans.plan_case import cases_of
from latewood.dashboard.views.plans.plan_opened import (
    energy_text,
    guard_lines,
    history_lines,
    speed_line,
    why_lines,
)
from latewood.dashboard.views.plans.plans import Card, card_of
from latewood.pipeline.stats.plans.ages import ADULT
from latewood.pipeline.stats.plans.results import PlanReview


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Weight plan")
    if opened is None:
        return
    st.page_link(file_of("plans"), label="All plans")
    plan_parts.say_what_was_done()
    requested = st.query_params.get("plan", "")
    plan = next((one for one in warehouse.plans(opened.build) if one.plan_id == requested), None)
    review = next((one for one in warehouse.plan_reviews(opened.build) if one.plan_id == requested), None)
    if plan is None:
        st.warning(f"No plan with the id “{verbatim(requested)}” is in this build. Pick one from all plans.")
        return
    record = plan_reads.record(opened.build)
    if review is None:
        parts.words(f"{opened.lookup.name(plan.athlete_id)}: this plan has ended.")
        _history(opened, plan, hidden=plan.athlete_id in record.hidden)
        return
    case = next(one for one in cases_of(record) if one.plan.plan_id == requested)
    card = card_of(case, opened.today, opened.lookup)
    _top(opened, card)
    provisional_part.mark(opened, plan.athlete_id)
    _why(opened, review, plan)
    power_of_plan(opened, review, plan)
    plan_parts.what_if_part(opened, review, plan)
    sets = opened.build.viewer.holds("set plan")
    if sets:
        plan_parts.decide_part(opened, _built(opened, review))
        plan_parts.change_part(opened, review, plan)
    _history(opened, plan, hidden=plan.athlete_id in record.hidden)
    if sets:
        plan_parts.hide_part(opened, plan.athlete_id, hidden=plan.athlete_id in record.hidden)


def _built(opened: parts.Opened, review: PlanReview) -> PlanReview:
    """The review of the build: what is written down beside a decision rests on no provisional number."""
    built = (one for one in warehouse.built_reviews(opened.build) if one.plan_id == review.plan_id)
    return next(built, review)


def _top(opened: parts.Opened, card: Card) -> None:
    parts.athlete_link(card.athlete_id, card.name)
    left, right = st.columns(2)
    left.html(card_status(card))
    own = [one for one in plan_reads.guards(opened.build) if one.plan_id == card.plan_id]
    with left:
        parts.words(speed_line(own, opened.lookup))
        st.html(card_facts(card))
    with right:
        parts.chart(draw_corridor, card.track, opened.colours, [card.track.alt])
        st.html(corridor_key())


def _why(opened: parts.Opened, review: PlanReview, plan: Plan) -> None:
    advice = plan_parts.advice_of(opened, plan.plan_id)
    parts.section("Why this status")
    parts.bullets(why_lines(review, plan, advice, plan_reads.settings(), opened.lookup.system))
    parts.section("Does it pay")
    own = [one for one in plan_reads.guards(opened.build) if one.plan_id == plan.plan_id]
    retests = [one for one in plan_reads.guard_retests(opened.build) if one.plan_id == plan.plan_id]
    values = [
        one for one in warehouse.athlete_values(opened.build, plan.athlete_id) if one.stay_id == plan.stay_id
    ]
    if not own:
        parts.empty(
            "No test of strength, splits or outputs before and after the plan began. Test, and it shows here."
        )
    else:
        parts.table(
            [
                {
                    "Test": line.test, "First": line.first, "Latest": line.latest, "Change (95 %)": line.change,
                    "How likely": line.says, "Test again?": line.again,
                }
                for line in guard_lines(own, opened.lookup, retests, values)
            ],
            "Tests beside the plan, first test days against the latest",
        )  # fmt: skip
    age = plan_parts.age_of(opened, plan.athlete_id)
    minor = age is None or age < ADULT
    scale = mass_scale(opened.lookup.system)
    parts.caution(cautions.STOP)
    with st.expander("What the gap to the plan means in food"):
        parts.section("Energy")
        parts.words(energy_text(review, advice, scale, minor=minor))
        parts.caution(cautions.ENERGY)


def _history(opened: parts.Opened, plan: Plan, *, hidden: bool) -> None:
    events = [one for one in plan_reads.record(opened.build).events if one.plan_id == plan.plan_id]
    versions = plan_reads.versions(opened.build, plan.plan_id)
    lines = history_lines(versions, events, mass_scale(opened.lookup.system), hidden=hidden)
    parts.on_opening(f"History: {len(lines)}", f"plan_history_{plan.plan_id}", lambda: parts.bullets(lines))
    parts.how_sure("Weight plan, all numbers")


if __name__ == "__main__":
    render()
