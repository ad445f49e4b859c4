"""Targets for one measure on the page of the athletes behind a number: set, and held against what was tested."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import streamlit as st

from latewood.dashboard.actions import focus_actions
from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text import cautions
from latewood.dashboard.text.wording import verbatim
from latewood.dashboard.views.cohorts.targets import Targets, build_targets
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.logs.focus import TEXT_LENGTH
from latewood.pipeline.stats.change.results import Trend

NEXT_DAYS = 28


def targets(
    opened: parts.Opened, trends: Sequence[Trend], values: Sequence[SessionValue], of: tuple[str, str]
) -> None:
    """The targets of those measured, for measure and line `of`, and the form that sets one."""
    lookup = opened.lookup
    athlete_ids = sorted({trend.athlete_id for trend in trends}, key=lambda one: (lookup.name(one), one))
    log = focus_actions.targets_of(opened.build, athlete_ids)
    view = build_targets(log, values, of, lookup, opened.today)

    def draw() -> None:
        _targets(opened, view, athlete_ids, of[0])

    parts.on_opening(
        f"Targets: {view.summary}", "behind_targets", draw, at_first="target_done" in st.session_state
    )


def _targets(opened: parts.Opened, view: Targets, athlete_ids: Sequence[str], measure: str) -> None:
    for text in st.session_state.pop("target_done", []):
        st.success(verbatim(text))
    for row in view.rows:
        parts.words(f"{row.name}: {row.target}. {row.text}")
    if opened.build.viewer.holds("set focus") and athlete_ids:
        parts.on_opening("Set a target", "target_write", lambda: _form(opened, athlete_ids, measure))


def _form(opened: parts.Opened, athlete_ids: Sequence[str], measure: str) -> None:
    parts.caution(cautions.TARGET)
    scale = opened.lookup.scale(measure)
    with st.form("target_form"):
        athlete = st.selectbox(
            "Athlete", list(athlete_ids), format_func=parts.named({a: opened.lookup.name(a) for a in athlete_ids}),
            key="target_athlete",
        )  # fmt: skip
        value = st.number_input(
            verbatim(f"Target ({scale.unit or 'count'})"),
            value=None,
            step=10.0**-scale.decimals,
            key="target_value",
        )
        until = st.date_input("By", opened.today + timedelta(days=NEXT_DAYS), key="target_until")
        text = st.text_area("What is worked on for it", max_chars=TEXT_LENGTH, key="target_text")
        who = ask_who("target_who")
        if not st.form_submit_button("Set it", type="primary"):
            return
    if value is None or athlete is None:
        st.error("Pick an athlete and type the target.")
        return
    draft = focus_actions.FocusDraft(text=text, measure=measure, review_on=until, target=value / scale.factor)
    try:
        focus_actions.write_focus(opened.build, athlete, draft, who)
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    st.session_state["target_done"] = ["The target is set."]
    st.rerun()
