"""The top of Data: whether the results are behind, the build that follows by itself, and what it changed."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard import signin
from latewood.dashboard.actions import following, steward_actions
from latewood.dashboard.reads.rows import Build
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.data import steward_parts
from latewood.dashboard.text.wording import verbatim
from latewood.dashboard.views.data.steward import build_difference

BEHIND = (
    "The results are older than the files, the decisions, the settings or the program itself. Press Rebuild to bring "
    "them up to date."
)
SOON = "A build follows by itself in a few seconds, once nothing more is answered."
RUNS = (
    "A build runs, for {seconds:.0f} s so far. Go on meanwhile: what is answered now is in the one after it."
)
DONE, FAILED = "The build has ended. This page still shows the results before it.", "The build failed: "
BEFORE = "data_before"  # the build that was published when one began to follow
EVERY = 2.0  # seconds between two looks at the build that runs


def rebuild(build: Build | None) -> None:
    """The build that follows by itself, or the rebuild button; nothing where nothing waits for one."""
    viewer = signin.viewer()
    state, _ = steward_actions.build_state(viewer)
    if state:
        st.session_state.setdefault(BEFORE, build)
        parts.fragment(_follow, EVERY)()
        return
    if BEFORE in st.session_state:
        _outcome(st.session_state.pop(BEFORE), build)
    if not steward_actions.is_behind(viewer, build):
        return
    if build is not None:  # otherwise it is said above that there is nothing to read
        st.warning(BEHIND)
    if st.button("Rebuild", type="primary", key="data_rebuild"):
        _press(build)


def _press(build: Build | None) -> None:
    if steward_actions.start_build(signin.viewer()):
        st.session_state[BEFORE] = build
        st.rerun()
    with st.status("Building. The published results stay readable meanwhile.") as status:
        steward_parts.do(
            lambda: [
                steward_actions.rebuild(
                    signin.viewer(), lambda step: status.update(label=f"Building: {step}")
                )
            ]
        )


def _follow() -> None:
    """What the build does now; drawn alone, so that the forms below keep what is typed into them."""
    state, seconds = steward_actions.build_state(signin.viewer())
    if state == following.RUNNING:
        st.info(verbatim(RUNS.format(seconds=seconds)))
    elif state == following.WAITING:
        st.info(SOON)
        if st.button("Build now", key="data_build_now"):
            steward_actions.start_build(signin.viewer())
            st.rerun(scope="fragment")
    else:
        st.success(DONE)
        if st.button("Show what it changed", type="primary", key="data_show"):
            st.rerun()


def _outcome(before: Build | None, now: Build | None) -> None:
    why = steward_actions.why_not_built(signin.viewer())
    if why:
        st.error(f"{FAILED}{verbatim(why)}")
    elif now is not None and (before is None or now.build_id != before.build_id):
        st.success(verbatim(build_difference(before, now)))
