"""Plans for a group through one form: a rate and a day for all, a start, a target and a ceiling of each one's own."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from latewood.dashboard.actions import plan_actions
from latewood.dashboard.reads import plan_reads
from latewood.dashboard.reads.rows import Stay
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.plans import plan_parts
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text import cautions
from latewood.dashboard.text.wording import field_label, mass_scale, verbatim
from latewood.dashboard.views.plans.plan_form import Feasible, feasibility, feasible_text
from latewood.dashboard.views.plans.plan_group import (
    BY_NAME,
    NO_TREND,
    Candidate,
    build_candidates,
    group_choices,
    head_of,
    left_out,
    saved_words,
    target_at,
)
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.plans.plan_forms import CLINICIAN, GUARDIAN, PlanDraft

ONE, GROUP = "one", "group"
KINDS = {ONE: "One athlete", GROUP: "A group"}
FAILED = "plan_group_failed"
EACH = (
    "Everybody starts from their own weigh-ins and has their own target and ceiling. Change any target below; a new "
    "rate or day works all of them out again."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked for all: the rate in per cent of body mass a week, the day, what for."""

    percent: float
    on: date
    purpose: str


def wanted() -> bool:
    """Whether a plan is made for a group; asked at the top of the form."""
    kind = st.segmented_control(
        "For whom", list(KINDS), default=ONE, format_func=parts.named(KINDS), key="new_plan_kind", required=True
    )  # fmt: skip
    return kind == GROUP


def draw(opened: parts.Opened, here: Collection[str]) -> None:
    """Pick the group, then one row an athlete; each plan is checked and saved as one made alone."""
    for text in st.session_state.pop(FAILED, []):
        st.warning(verbatim(text))
    candidates = build_candidates(
        here, plan_reads.words(opened.build), plan_reads.stages(opened.build), plan_reads.settings(),
        (opened.lookup, opened.today),
    )  # fmt: skip
    picked = _pick(candidates)
    stays = _stays(opened)
    if picked:
        _form(opened, picked, stays)
    out = left_out(candidates)
    if out:
        parts.on_opening(
            f"Not in a group, with the reason: {len(out)}", "plan_group_out", lambda: parts.bullets(out)
        )
    parts.caution(cautions.WEIGHT, cautions.RATE)


def _pick(candidates: Sequence[Candidate]) -> list[Candidate]:
    by_id = {one.athlete_id: one for one in candidates if not one.why}
    choices = {one.key: one for one in group_choices(candidates)}
    left, right = st.columns([1, 2])
    with left:
        labels = {key: one.label for key, one in choices.items()}
        group = (
            parts.pick("Group", list(choices), BY_NAME, parts.named(labels), key="plan_group_of") or BY_NAME
        )
    key = plan_parts.fresh_key(f"plan_group_{group}")
    names = {one: candidate.name for one, candidate in by_id.items()}
    picked = right.multiselect(
        "Athletes", list(by_id), list(choices[group].athlete_ids), parts.named(names), key=key
    )
    return [by_id[one] for one in picked]


def _stays(opened: parts.Opened) -> dict[str, Stay]:
    """The latest stay of each athlete."""
    ordered = sorted(opened.lookup.stays.values(), key=lambda one: one.arrived_on)
    return {one.athlete_id: one for one in ordered}


def _form(opened: parts.Opened, picked: Sequence[Candidate], stays: Mapping[str, Stay]) -> None:
    settings, earliest = plan_reads.settings(), opened.today + timedelta(days=7)
    first, second, third = st.columns(3)
    percent = first.number_input(
        "Gain a week (% of body mass)", 0.0, settings.ceiling_percent, settings.plan_percent, 0.05, "%.2f",
        key="plan_group_percent",
    )  # fmt: skip
    last = max(stays[one.athlete_id].planned_until for one in picked)
    on = second.date_input("By", max(last, earliest), min_value=earliest, key="plan_group_on")
    purpose = third.text_input("Purpose", key="plan_group_purpose")
    parts.words(EACH, "lw-small")
    asked = Asked(percent=percent, on=on, purpose=purpose)
    rows = [_row(opened, one, stays[one.athlete_id], asked) for one in picked]
    ready = [draft for draft in rows if draft is not None]
    who = ask_who("plan_group_who")
    if ready and st.button(f"Save {len(ready)} of {len(rows)} plans", type="primary", key="plan_group_save"):
        _save(opened, ready, who)


def _row(opened: parts.Opened, one: Candidate, stay: Stay, asked: Asked) -> PlanDraft | None:
    """One athlete's own numbers; the draft, or None, with the reason, where it cannot be saved as it stands."""
    scale, settings = mass_scale(opened.lookup.system), plan_reads.settings()
    on = min(asked.on, max(stay.planned_until, opened.today + timedelta(days=7)))
    trend = plan_actions.trend_on(opened.build, one.athlete_id, opened.today)
    with st.container(border=True):
        if trend is None:
            parts.words(f"{one.name}: {NO_TREND}.")
            return None
        weeks = (on - opened.today).days / 7.0
        parts.words(head_of(one.name, trend, target_at(trend, settings.ceiling_percent, weeks), scale))
        key = plan_parts.fresh_key(f"plan_group_{one.athlete_id}_{asked.percent:.2f}_{on}")
        columns = st.columns(4)
        with columns[0]:
            target = plan_parts.mass_field(
                "Target", target_at(trend, asked.percent, weeks), scale, f"{key}_kg"
            )
        draft = PlanDraft(
            plan_id="", athlete_id=one.athlete_id, start_on=opened.today, start_kg=trend, target_on=on,
            target_kg=target, purpose=asked.purpose, reason="",
        )  # fmt: skip
        state = plan_parts.state_of(opened, stay.stay_id, "", trend)
        found = feasibility(state, draft, one.maturity, settings, trend)
        draft = _signed(draft, found, columns[1:])
        early = f" Their stay ends on {on:%d %b}." if on < asked.on else ""
        parts.words(f"{feasible_text(found, scale)}{early}", "lw-small")
        if found.permission.refused:
            st.error(f"Cannot be saved: {verbatim(found.permission.refused)}.")
            return None
        return draft


def _signed(draft: PlanDraft, found: Feasible, columns: Sequence[DeltaGenerator]) -> PlanDraft:
    """The draft with who approved it and why, in fields of this athlete's own that outlive a change of numbers."""
    key = f"plan_group_{draft.athlete_id}"
    given = {
        role: column.text_input(field_label(f"Approved by the {role}: name"), key=f"{key}_{role.split()[0]}")
        for role, column in zip(found.approvals, columns, strict=False)
    }
    reason = ""
    if found.permission.reason_for:
        reason = columns[-1].text_input("Reason (needed here)", key=f"{key}_reason")
    return replace(draft, guardian=given.get(GUARDIAN, ""), clinician=given.get(CLINICIAN, ""), reason=reason)


def _save(opened: parts.Opened, drafts: Sequence[PlanDraft], who: str) -> None:
    """Save each by itself: one that is refused stands with its reason and stops no other."""
    saved, failed = [], []
    for draft in drafts:
        name = opened.lookup.name(draft.athlete_id)
        try:
            plan_actions.save_plan(opened.build, draft, who)
            saved.append(name)
        except LatewoodError as error:
            failed.append(f"{name}: {error}")
    if not saved:
        st.error(verbatim(saved_words(saved, failed)))
        return
    if failed:
        st.session_state[FAILED] = [saved_words([], failed)]
    plan_parts.do(lambda: f"{saved_words(saved, [])} {plan_parts.NEXT_BUILD}")
