"""The sections of the athlete page: one is drawn at a time, when it is asked for; their links stay in view."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.screens import parts

CHANGES, TIME, ACCOUNT, BUILD = "changes", "time", "account", "build"
AHEAD, MOVEMENT, GROWTH, REVIEW, FAMILY, SOURCES = (
    "ahead",
    "movement",
    "growth",
    "review",
    "family",
    "sources",
)
GLANCE, EVERY = "glance", "all"
NAMES = {
    GLANCE: "At a glance",
    CHANGES: "Changes",
    TIME: "Over time",
    ACCOUNT: "What goes with it",
    BUILD: "Similar builds",
    AHEAD: "Ahead",
    REVIEW: "Review",
    MOVEMENT: "Movement",
    GROWTH: "Growth",
    FAMILY: "Family page",
    SOURCES: "Sources",
    EVERY: "Everything",
}
ON_PAPER = "Everything on paper is what a talk needs. Ahead, Movement and Sources are printed from their own section."
NEEDS = {MOVEMENT: "observation", FAMILY: "family page"}  # the right without which there is no such section


def picked(opened: parts.Opened, athlete_id: str) -> tuple[str, ...]:
    """The sections to draw: none at first, the one picked, the one in the address, or every one."""
    viewer = opened.build.viewer
    names = [one for one in NAMES if one not in NEEDS or viewer.holds(NEEDS[one])]
    asked = st.query_params.get("section")
    with st.container(key="athlete_sections"):
        one = st.pills(
            "Sections",
            names,
            default=asked if asked in names else GLANCE,
            format_func=parts.named(NAMES),
            key=f"athlete_section_{athlete_id}",
            label_visibility="collapsed",
        )
    if one is None or one == GLANCE:
        return ()
    return tuple(name for name in names if name not in (GLANCE, EVERY)) if one == EVERY else (one,)
