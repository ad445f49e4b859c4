"""The forms of one plan: another target or date, the decision, a new version, hiding the mass."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, timedelta

import streamlit as st

from latewood.dashboard.actions import plan_actions
from latewood.dashboard.reads import plan_reads, warehouse
from latewood.dashboard.reads.rows import Plan
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.plans.power_part import power_of_draft
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text import cautions
from latewood.dashboard.text.wording import Scale, field_label, full_day, mass_scale, verbatim
from latewood.dashboard.views.plans.plan_form import (
    Feasible,
    Maturity,
    feasibility,
    feasible_text,
    start_question,
)
from latewood.dashboard.views.plans.plan_opened import what_if_text
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.logs.planlog import age_on, decisions_for
from latewood.pipeline.ingest.plans.plan_forms import CLINICIAN, GUARDIAN, PlanDraft
from latewood.pipeline.stats.plans.results import PlanAdvice, PlanReview, PlanState
from latewood.pipeline.stats.plans.whatif import state_without_weighins, what_if

DONE = "plan_done"
ROUND = "plan_round"
TREND, TYPED = "the trend", "the typed start"
NEXT_BUILD = "It counts on the board after the next build (Data, Rebuild)."


def say_what_was_done() -> None:
    """The result of the last action, once."""
    text = st.session_state.pop(DONE, None)
    if text:
        st.success(verbatim(text))


def fresh_key(name: str) -> str:
    """A key for the fields of a form: another one after every action, so that a form that was saved stands empty."""
    done = int(st.session_state.get(ROUND, 0))
    return f"{name}_{done}" if done else name


def do(action: Callable[[], str]) -> None:
    """Run an action and draw the page anew, or say what is wrong and leave all as it was."""
    try:
        words = action()
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    st.session_state[DONE] = words
    st.session_state[ROUND] = int(st.session_state.get(ROUND, 0)) + 1
    st.rerun()


def advice_of(opened: parts.Opened, plan_id: str) -> PlanAdvice | None:
    """The row of the decision table of a plan."""
    return next((one for one in plan_reads.record(opened.build).advice if one.plan_id == plan_id), None)


def age_of(opened: parts.Opened, athlete_id: str) -> float | None:
    """Completed years today."""
    athlete = opened.lookup.athletes.get(athlete_id)
    return None if athlete is None else age_on(athlete.birth_date, opened.today)


def state_of(opened: parts.Opened, stay_id: str, plan_id: str, start_kg: float) -> PlanState:
    """Where the athlete stands: by the plan's own filter, else by the stay's, else from the start mass alone."""
    states = [one for one in plan_reads.states(opened.build) if one.stay_id == stay_id]
    own = [one for one in states if one.plan_id == plan_id] or states
    return own[0] if own else state_without_weighins(start_kg, opened.today)


def mass_field(label: str, kg: float, scale: Scale, key: str) -> float:
    """A number field in the unit shown; returns kg."""
    shown = st.number_input(
        field_label(f"{label} ({scale.unit})"), value=round(scale.of(kg), 1), step=0.5, format="%.1f",
        key=f"{key}_{scale.unit}",
    )  # fmt: skip
    # Untouched, the field stands for the exact mass and not for the rounded one it shows.
    return kg if float(shown) == round(scale.of(kg), 1) else float(shown) / scale.factor


def what_if_part(opened: parts.Opened, review: PlanReview, plan: Plan) -> None:
    """Another target, date or rate in a fold: needed rate and chance, as it is typed."""
    with st.expander("What if: another target, date or rate"):
        _what_if(opened, review, plan)


def _what_if(opened: parts.Opened, review: PlanReview, plan: Plan) -> None:
    if plan.athlete_id in plan_reads.record(opened.build).hidden:
        parts.words("The athlete hides their mass: no what-if on a shared screen.")
        return
    scale, key = mass_scale(opened.lookup.system), f"plan_if_{plan.plan_id}"
    state = state_of(opened, review.stay_id, plan.plan_id, plan.start_kg)
    first, second, third = st.columns(3)
    with first:
        target = mass_field("Target", plan.target_kg, scale, f"{key}_target")
    earliest = max(opened.today, state.as_of) + timedelta(days=1)
    on = second.date_input("Date", value=max(plan.target_on, earliest), min_value=earliest, key=f"{key}_on")
    with third:
        rate = st.number_input(
            f"Rate from now on ({verbatim(scale.unit)}/wk), empty for today's trend", value=None, step=0.05,
            format="%.2f", key=f"{key}_rate_{scale.unit}",
        )  # fmt: skip
    if isinstance(on, date):
        result = what_if(state, target, on, None if rate is None else rate / scale.factor)
        parts.words(what_if_text(result, plan_reads.settings().ceiling_percent, scale))


def decide_part(opened: parts.Opened, review: PlanReview) -> None:
    """The decision: what, by whom, until when, why."""
    st.subheader("Decide", anchor=False)
    parts.caution(cautions.DECIDE, cautions.WEIGHT)
    key = fresh_key(f"plan_decide_{review.plan_id}")
    offered = decisions_for(age_of(opened, review.athlete_id))
    with st.form(key, border=True):
        decision = st.radio(
            "Decision", offered, format_func=str.capitalize, horizontal=True, key=f"{key}_what", index=None
        )
        poor = st.checkbox("Food, sleep or attendance were poor", key=f"{key}_poor")
        left, right = st.columns(2)
        review_on = left.date_input(
            "Look again on", value=opened.today + timedelta(days=7), key=f"{key}_review",
            min_value=opened.today + timedelta(days=1),
        )  # fmt: skip
        with right:
            who = ask_who(f"{key}_who")
        note = st.text_input("Why, in one sentence", key=f"{key}_note", max_chars=400)
        sent = st.form_submit_button("Record the decision", type="primary")
    if not sent:
        return
    if decision is None or not isinstance(review_on, date):
        st.error("Pick a decision and a day to look again.")
        return

    def action() -> str:
        made = plan_actions.PlanDecision(
            decision=decision, review_on=review_on, note=note, attendance_poor=poor
        )
        plan_actions.decide(opened.build, review, made, who)
        again = f"Look again on {full_day(review_on)}."
        return (
            f"Recorded: {decision}. {again} {'Now change the target below.' if 'target' in decision else ''}"
        )

    do(action)


def change_part(opened: parts.Opened, review: PlanReview, plan: Plan) -> None:
    """A new version of the plan, with what it needs as it is typed; or its end."""
    with st.expander("Change the target or date, or end the plan"):
        if plan.athlete_id in plan_reads.record(opened.build).hidden:
            parts.words("The athlete hides their mass: show it again below before changing the target here.")
            return
        scale, key = mass_scale(opened.lookup.system), fresh_key(f"plan_change_{plan.plan_id}")
        state = state_of(opened, review.stay_id, plan.plan_id, plan.start_kg)
        left, right = st.columns(2)
        with left:
            start = mass_field("Start today from", state.kg, scale, f"{key}_start")
        with right:
            target = mass_field("Target", plan.target_kg, scale, f"{key}_target")
        draft_form(opened, key, replace(plan, start_kg=start, target_kg=target), state)
        who = ask_who(f"{key}_end_who")
        if st.button("End this plan", key=f"{key}_end"):
            ended = replace(
                draft_of(opened, plan, start, target, plan.target_on),
                reason="ended on the screen", ended_on=opened.today,
            )  # fmt: skip
            do(lambda: f"Ended {plan_actions.save_plan(opened.build, ended, who)}. {NEXT_BUILD}")


def draft_form(opened: parts.Opened, key: str, plan: Plan, state: PlanState) -> None:
    """The rest of the form of a plan, whose start and target are as typed, and the button that saves it."""
    trend = plan_actions.trend_on(opened.build, plan.athlete_id, opened.today)
    scale = mass_scale(opened.lookup.system)
    start, answer, requested = _start(key, plan.start_kg, trend, scale)
    left, right = st.columns(2)
    earliest = opened.today + timedelta(days=7)
    on = left.date_input("By", value=max(plan.target_on, earliest), min_value=earliest, key=f"{key}_on")
    purpose = right.text_input("Purpose", value=plan.purpose or "", key=f"{key}_purpose")
    stage = plan_reads.stages(opened.build).get(plan.athlete_id, "")
    maturity = Maturity(age=age_of(opened, plan.athlete_id), stage=stage)
    draft = draft_of(opened, plan, start, plan.target_kg, on)
    result: Feasible = feasibility(state, draft, maturity, plan_reads.settings(), trend)
    parts.words(feasible_text(result, scale))
    power_of_draft(opened, result.rate, (on - opened.today).days / 7.0)
    approved = _approvals(result.approvals, key)
    left, right = st.columns(2)
    reason = left.text_input(
        "Reason (needed here)" if result.permission.reason_for else "Reason", key=f"{key}_reason"
    )
    with right:
        who = ask_who(f"{key}_who")
    parts.caution(cautions.WEIGHT, cautions.RATE)
    if result.permission.refused:
        st.error(f"Cannot be saved: {verbatim(result.permission.refused)}.")
    elif requested:
        st.info("Answer the question about the start first; then the plan can be saved.")
    elif st.button("Save the plan", type="primary", key=f"{key}_save"):
        draft = replace(
            draft, purpose=purpose, reason=reason, start_answer=answer, guardian=approved.get(GUARDIAN, ""),
            clinician=approved.get(CLINICIAN, ""),
        )  # fmt: skip
        do(lambda: f"Saved plan {plan_actions.save_plan(opened.build, draft, who)}. {NEXT_BUILD}")


def _start(key: str, typed: float, trend: float | None, scale: Scale) -> tuple[float, str, bool]:
    """The start that holds, why where it is far from the trend, and whether that is still to be answered."""
    question = start_question(typed, trend, scale)
    if not question or trend is None:
        return typed, "", False
    which = st.radio(
        verbatim(question),
        (TREND, TYPED),
        format_func=str.capitalize,
        index=None,
        horizontal=True,
        key=f"{key}_which",
    )
    if which == TREND:
        return trend, "", False
    if which is None:
        return typed, "", True
    parts.words("The ceiling is reckoned from the trend all the same.")
    why = st.text_input("Why the typed start is right, in one sentence", key=f"{key}_why", max_chars=400)
    return typed, why, not why.strip()


def _approvals(needed: Sequence[str], key: str) -> dict[str, str]:
    """Who approved, by what they approve as: a field for each."""
    if not needed:
        return {}
    fields = {GUARDIAN: f"{key}_guardian", CLINICIAN: f"{key}_clinician"}
    return {
        role: column.text_input(field_label(f"Approved by the {role}: name"), key=fields[role])
        for role, column in zip(needed, st.columns(2), strict=False)
    }


def draft_of(opened: parts.Opened, plan: Plan, start: float, target: float, on: date) -> PlanDraft:
    """The masses and dates of a plan as they stand in the form."""
    return PlanDraft(
        plan_id=plan.plan_id, athlete_id=plan.athlete_id, start_on=opened.today, start_kg=start, target_on=on,
        target_kg=target, purpose=plan.purpose or "", reason="",
        seen_version=plan.version if plan.plan_id else None,
    )  # fmt: skip


def hide_part(opened: parts.Opened, athlete_id: str, *, hidden: bool) -> None:
    """The athlete may have their mass hidden on the screens, and shown again."""
    st.subheader("The athlete's wish", anchor=False)
    parts.words("An athlete may have their mass hidden on the plan screens. Status and rate as a share stay.")
    who = ask_who(f"plan_hide_who_{athlete_id}")
    label = "Show their mass again" if hidden else "Hide their mass"
    if st.button(label, key=f"plan_hide_{athlete_id}"):

        def action() -> str:
            plan_actions.hide_mass(opened.build, athlete_id, who, hidden=not hidden)
            return "The mass is shown again." if hidden else "The mass is hidden from now on."

        do(action)


def athletes_here(opened: parts.Opened) -> dict[str, str]:
    """Athletes at camp today by name, with a word where one has a plan."""
    planned = {one.athlete_id for one in warehouse.plan_reviews(opened.build)}
    here = {
        stay.athlete_id
        for stay in opened.lookup.stays.values()
        if stay.arrived_on <= opened.today <= (stay.left_on or stay.planned_until)
    }
    names = {
        one: opened.lookup.name(one) + (" (has a plan)" if one in planned else "")
        for one in here
        if one in opened.lookup.athletes
    }
    return dict(sorted(names.items(), key=lambda pair: pair[1]))
