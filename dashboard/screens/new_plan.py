"""A new weight plan: for whom, to what, by when; or why none is made."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from dashboard import cautions, plan_data
from dashboard.rows import Plan
from dashboard.screens import parts, plan_parts
from dashboard.wording import mass_scale
from pipeline.stats.plan_allowed import age_refusal


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("New weight plan")
    if opened is None:
        return
    st.page_link(parts.PLANS, label="All plans")
    plan_parts.say_what_was_done()
    names = plan_parts.free_athletes(opened)
    if not names:
        parts.empty("Every athlete at camp today has a plan, or nobody is at camp.")
        return
    chosen = parts.pick(
        "Athlete", list(names), st.query_params.get("athlete"), parts.named(names), key="new_plan_athlete"
    )
    if chosen is None:
        parts.caution(cautions.WEIGHT, cautions.UNDER_14)
        return
    stage = plan_data.stages(opened.build).get(chosen, "")
    refused = age_refusal(plan_parts.age_of(opened, chosen), stage, plan_data.settings())
    if refused:
        st.info(f"No plan for {parts.verbatim(names[chosen])}: {parts.verbatim(refused)}.")
        parts.athlete_link(chosen, f"Growth of {names[chosen]}")
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
    scale, key = mass_scale(opened.lookup.system), f"new_plan_{athlete_id}"
    weeks = max(1.0, (stay.planned_until - opened.today).days / 7.0)
    usual = state.kg * (1.0 + plan_data.settings().plan_percent / 100.0 * weeks)
    left, right = st.columns(2)
    with left:
        start = plan_parts.mass_field("Start from", state.kg, scale, f"{key}_start")
    with right:
        target = plan_parts.mass_field("Target", usual, scale, f"{key}_target")
    if stage:
        parts.words(f"By the equations: {stage}. Classes are uncertain by about a year.")
    plan = Plan(
        plan_id="", version=0, athlete_id=athlete_id, stay_id=stay.stay_id, start_on=opened.today,
        start_kg=start, target_on=max(stay.planned_until, opened.today + timedelta(days=7)), target_kg=target,
        ended_on=None, purpose=None, made_by=None, approved_by=None, reason=None,
    )  # fmt: skip
    plan_parts.draft_form(opened, key, plan, start, target, state)


if __name__ == "__main__":
    render()
