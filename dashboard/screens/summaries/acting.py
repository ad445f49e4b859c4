"""Does what a form of the Summaries screen asks for, and says once what was done."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.errors import LatewoodError

READY = "summaries_ready_"


def say_what_was_done() -> None:
    """The result of the last action, once."""
    for text in st.session_state.pop("summaries_done", []):
        st.success(verbatim(text))


def do(action: Callable[[], str]) -> None:
    """Do it; an error is shown, anything else is said after the screen is drawn anew."""
    try:
        done = action()
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    for key in [k for k in st.session_state if str(k).startswith(READY)]:
        del st.session_state[key]  # what was issued under an earlier consent is not handed out again
    st.session_state["summaries_done"] = [done]
    st.rerun()
