"""A new weight plan: for whom, to what, by when; or why none is made."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from latewood.dashboard.actions import plan_actions
from latewood.dashboard.reads import plan_reads, warehouse
from latewood.dashboard.reads.rows import Plan
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.plans import group_part, plan_parts
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.text import cautions
from latewood.dashboard.text.wording import field_label, mass_scale
from latewood.dashboard.views.plans.plan_form import next_version_question
from latewood.pipeline.ingest.plans.plan_forms import Running
from latewood.pipeline.stats.plans.allowed import age_refusal


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("New weight plan")
    if opened is None:
        return
    st.page_link(file_of("plans"), label="All plans")
    plan_parts.say_what_was_done()
    names = plan_parts.athletes_here(opened)
    if not names:
        parts.empty("Nobody is at camp today.")
        return
    if "athlete" not in st.query_params and group_part.wanted():
        group_part.draw(opened, names)
        return
    # After a plan was saved nobody is picked: the next one is another athlete's.
    key = plan_parts.fresh_key("new_plan_athlete")
    requested = st.query_params.get("athlete") if key == "new_plan_athlete" else None
    chosen = parts.pick("Athlete", list(names), requested, parts.named(names), key=key)
    if chosen is None:
        parts.caution(cautions.WEIGHT, cautions.UNDER_14)
        return
    stage = plan_reads.stages(opened.build).get(chosen, "")
    refused = age_refusal(plan_parts.age_of(opened, chosen), stage, plan_reads.settings())
    if refused:
        st.info(f"No plan for {parts.verbatim(names[chosen])}: {parts.verbatim(refused)}.")
        parts.athlete_link(chosen, f"Growth of {names[chosen]}", "growth")
        parts.caution(cautions.UNDER_14, cautions.GROWTH)
        return
    _form(opened, chosen, stage)


def _form(opened: parts.Opened, athlete_id: str, stage: str) -> None:
    stay = max(
        (s for s in opened.lookup.stays.values() if s.athlete_id == athlete_id), key=lambda s: s.arrived_on
    )
    state = plan_parts.state_of(opened, stay.stay_id, "", 70.0)
    if not state.stay_id:
        parts.empty("No weigh-in in this stay. Weigh in on three fasted mornings first.")
        return
    key = plan_parts.fresh_key(f"new_plan_{athlete_id}")
    running = plan_actions.running_plan(opened.build, athlete_id, opened.today)
    if running is not None and not _is_next_version(opened, running, key):
        return
    scale = mass_scale(opened.lookup.system)
    weeks = max(1.0, (stay.planned_until - opened.today).days / 7.0)
    usual = state.kg * (1.0 + plan_reads.settings().plan_percent / 100.0 * weeks)
    left, right = st.columns(2)
    with left:
        start = plan_parts.mass_field("Start from", state.kg, scale, f"{key}_start")
    with right:
        target = plan_parts.mass_field("Target", usual, scale, f"{key}_target")
    if stage:
        parts.words(f"By the equations: {stage}. Classes are uncertain by about a year.")
    plan = Plan(
        plan_id=running.plan_id if running else "", version=running.version if running else 0,
        athlete_id=athlete_id, stay_id=stay.stay_id, start_on=opened.today, start_kg=start,
        target_on=max(stay.planned_until, opened.today + timedelta(days=7)), target_kg=target, ended_on=None,
        purpose=None, made_by=None, approved_by=None, reason=None,
    )  # fmt: skip
    plan_parts.draft_form(opened, key, plan, state)


def _is_next_version(opened: parts.Opened, running: Running, key: str) -> bool:
    """Ask whether the plan is the next version of the one that runs: an athlete has one plan at a time."""
    question = next_version_question(running.plan_id, running.target_on)
    answer = st.radio(field_label(question), ("yes", "no"), format_func=str.capitalize, index=None, horizontal=True,
                      key=f"{key}_next")  # fmt: skip
    if answer == "no":
        st.info("An athlete has one plan at a time: end the one that runs first, then make another.")
        if any(one.plan_id == running.plan_id for one in warehouse.plans(opened.build)):
            st.page_link(
                file_of("plan"), label="To the plan that runs", query_params={"plan": running.plan_id}
            )
    return answer == "yes"


if __name__ == "__main__":
    render()
