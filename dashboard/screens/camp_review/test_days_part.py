"""The fold in which a director plans the test days of a camp: worked out at a press only."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from latewood.dashboard.actions import test_day_actions
from latewood.dashboard.charts.drawing import exact
from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.text.wording import reading_order, verbatim
from latewood.dashboard.views.cohorts.test_days import build_test_days
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.plans.schedules import CampTests
from latewood.pipeline.stats.change.protocol import Schedule

LABEL = "Plan the test days: which gains would show, at what cost"
TAKES = "It plays a dozen camps for each plan and takes about 20 seconds."


def fold(opened: parts.Opened, camp_id: str) -> None:
    """The fold; closed it costs the screen nothing."""
    parts.on_opening(LABEL, "review_test_days", lambda: _draw(opened, camp_id))


def _draw(opened: parts.Opened, camp_id: str) -> None:
    tested = {one.measure for one in warehouse.cohort_gains(opened.build) if one.camp_id == camp_id}
    known = sorted(
        tested & set(opened.lookup.measures), key=lambda one: reading_order(opened.lookup.measures[one])
    )
    names = {one: opened.lookup.label(one) for one in known}
    if not names:
        parts.empty("No test of this camp is on record yet.")
        return
    measure = parts.pick("What is tested", known, known[0], parts.named(names), key="test_days_measure")
    if measure is None:
        return
    try:
        tests = test_day_actions.tests_now(opened.build, camp_id, measure)
    except LatewoodError as error:
        st.info(verbatim(str(error)))
        return
    asked = _asked(tests)
    requested = (opened.build.build_id, camp_id, measure, asked)
    parts.words(TAKES, "lw-small")
    # What was asked for and what came are kept apart: a click elsewhere stops this run, and the next goes on.
    made = st.session_state.setdefault("test_days_made", {})
    st.button("Work it out", key="test_days_press", on_click=_ask_for, args=(requested,))
    if requested not in made:
        if st.session_state.get("test_days_wanted") != requested:
            return
        with st.spinner("Playing the camps"):
            made[requested] = test_day_actions.plan_tests(tests, asked)
    view = build_test_days(tests, made[requested], asked, opened.lookup.mean_scale(measure))
    parts.words(view.answer, "lw-first")
    parts.table(view.rows, "Plans of test days beside each other")
    parts.sheet(exact("How this is worked out", view.exact))


def _ask_for(requested: tuple[object, ...]) -> None:
    st.session_state["test_days_wanted"] = requested


def _asked(tests: CampTests) -> Schedule:
    """The plan as typed; at first as the camp is tested now."""
    first, second, third = st.columns(3, vertical_alignment="bottom")
    key = f"test_days_{tests.measure.key}"
    every = first.number_input(
        "Weeks between test days", 0.5, max(tests.now.weeks, 1.0), round(tests.now.every, 1), 0.5, "%.1f",
        key=f"{key}_every",
    )  # fmt: skip
    trials = second.number_input("Trials a test day", 1, 100, tests.now.trials, key=f"{key}_trials")
    twice = third.checkbox("Everybody twice at intake", tests.now.twice, key=f"{key}_twice")
    same = every == round(tests.now.every, 1)
    return replace(tests.now, every=tests.now.every if same else every, trials=int(trials), twice=twice)
