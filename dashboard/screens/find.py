"""The field above every screen that goes to an athlete by name, and the list where a name fits several or nobody."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.text.wording import count_of, verbatim
from latewood.dashboard.views.find import NamedAthlete, by_name, people
from latewood.pipeline.access import Viewer
from latewood.pipeline.errors import LatewoodError

FIELD, ASKED = "app_find", "app_find_asked"
ASKS = "find"  # in an address of the athlete page


def field(viewer: Viewer) -> None:
    """The field; nothing for a role that opens no athlete."""
    if "athlete" in viewer.screens:
        st.text_input(
            "Go to an athlete",
            placeholder="Go to an athlete",
            key=FIELD,
            label_visibility="collapsed",
            on_change=_keep,
            width=220,
        )


def go(viewer: Viewer) -> None:
    """Open the page of the athlete whose name was typed, or the list of those whom it fits."""
    typed = str(st.session_state.pop(ASKED, "")).strip()
    if not typed:
        return
    try:
        result = by_name(warehouse.athletes(warehouse.published(viewer)), typed)
    except LatewoodError:
        return  # the screen itself says why nothing can be read
    query = {"athlete": result[0]} if len(result) == 1 else {ASKS: typed}
    st.switch_page(file_of("athlete"), query_params=query)


def listed(opened: parts.Opened, typed: str) -> None:
    """The athletes whom a typed name fits, each a link."""
    result = people(typed, opened.lookup)
    if not result:
        parts.refused(f"Nobody on the roster is called “{verbatim(typed)}”. Try a part of the name.")
        return
    parts.words(f"{count_of(len(result), 'athlete')} for “{typed}”.")
    parts.in_portions(result, _row, "app_people", "athletes")


def _row(person: NamedAthlete) -> None:
    name, beside = st.columns([1, 2], vertical_alignment="center")
    with name:
        parts.athlete_link(person.athlete_id, person.name)
    with beside:
        parts.words(person.beside, "lw-small")


def _keep() -> None:
    st.session_state[ASKED] = st.session_state[FIELD]
    st.session_state[FIELD] = ""
