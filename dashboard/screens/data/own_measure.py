"""The form for a measure of the program's own, on the Data screen."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from latewood.dashboard import signin
from latewood.dashboard.actions import measure_actions
from latewood.dashboard.screens import parts
from latewood.dashboard.text.wording import field_label, verbatim
from latewood.dashboard.views.data.own_measure import LONG, SHORT, Field, fault_lines, word_of
from latewood.pipeline.errors import LatewoodError

NAME, OPEN = "own_label", "own_open"
COLUMNS = 3


def begin(header: str) -> None:
    """Open the form for a column that no measure is known for, with its header as the name."""
    st.session_state[NAME], st.session_state[OPEN] = header, True


def form() -> None:
    """The form, in a fold that is open where a column asked for it."""
    label = "Add a measure of our own"
    with st.expander(label, expanded=bool(st.session_state.get(OPEN))), st.form("own_measure", border=False):
        parts.words(
            "For a test the catalogue does not have. It is saved once nothing is missing.", "lw-small"
        )
        name = st.text_input("Name, as files write it", key=NAME)
        given = _fields(SHORT, COLUMNS) | _fields(LONG, 1)
        who = _who()
        sent = st.form_submit_button("Save the measure")
    if sent:
        _save(name, given, who)


def _who() -> str:
    viewer = signin.viewer()
    if viewer.signed_in:
        return viewer.signs("")
    return st.text_input("Your name", key="own_who")


def _fields(fields: Sequence[Field], width: int) -> dict[str, str]:
    given = {}
    for start in range(0, len(fields), width):
        for column, field in zip(st.columns(width), fields[start : start + width], strict=False):
            with column:
                given[field.name] = _field(field)
    return given


def _field(field: Field) -> str:
    key = f"own_{field.name}"
    if field.choices:
        chosen = st.selectbox(
            field_label(field.label),
            field.choices,
            index=None,
            format_func=word_of,
            placeholder="Not chosen",
            key=key,
        )
        return chosen or ""
    return st.text_input(field_label(field.label), key=key, placeholder=field.hint)


def _save(name: str, given: dict[str, str], who: str) -> None:
    try:
        made, wrong = measure_actions.draft(signin.viewer(), name, given)
        lines = fault_lines(wrong) + ([] if who.strip() else ["Your name: is not filled in"])
        if lines:
            st.error("Not saved yet:\n\n" + "\n".join(f"- {verbatim(line)}" for line in lines))
            return
        st.session_state["data_done"] = [measure_actions.save(signin.viewer(), made, who)]
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    st.session_state[OPEN] = False
    st.rerun()
