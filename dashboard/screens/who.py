"""Who is at the screen: asked once per visit, and kept for the forms of that visit."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard import signin

KEPT = "app_who"


def ask_who(key: str) -> str:
    """The person signed in; at the machine the name typed here, or the one typed before in this visit."""
    viewer = signin.viewer()
    if viewer.signed_in:
        st.text_input("Your name", value=viewer.name, disabled=True, key=key)
        return viewer.signs("")
    typed = st.text_input("Your name", value=who_is_here(), key=key)
    if typed.strip():
        st.session_state[KEPT] = typed.strip()
    return typed.strip()


def who_is_here() -> str:
    """The name typed before in this visit, '' where none was."""
    return str(st.session_state.get(KEPT, ""))
