"""The form on Data by which two ids of one athlete are joined: pick both, look at both, say why."""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from latewood.dashboard import signin
from latewood.dashboard.actions import steward_actions
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.data import steward_parts
from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.errors import LatewoodError

ROUND = "data_join_round"
WHAT = (
    "Where one athlete came under two ids, all that came under the first is read as the second's from the next "
    "rebuild. No file changes, and it can be taken back above."
)


def form(names: Mapping[str, str], seen: int) -> None:
    """The form, in a fold; `names` names the athletes of the build by id, `seen` counts the decisions on record."""
    if len(names) > 1:
        parts.on_opening("Join two ids of one athlete", "data_join", lambda: _opened(names, seen))


def _opened(names: Mapping[str, str], seen: int) -> None:
    st.markdown(WHAT)
    labels = {one: f"{name} ({one})" for one, name in names.items()}
    left, right = st.columns(2)
    name, which = parts.named(labels), _round()
    with left:
        joined = parts.pick(
            "Joined, no longer shown by itself", list(labels), None, name, key=f"data_join_one{which}"
        )
    with right:
        kept = parts.pick("Kept", list(labels), None, name, key=f"data_join_other{which}")
    if joined is None or kept is None:
        return
    try:
        shown = steward_actions.look_at_join(signin.viewer(), joined, kept)
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    table = [{"": label, "Joined": one, "Kept": other} for label, one, other in shown.side_by_side]
    parts.table(table, "What both ids hold, side by side")
    if shown.refusal:
        st.error(verbatim(shown.refusal))
        return
    _reason(joined, kept, labels, seen)


def _round() -> str:
    """What makes the two fields new, and empty, after a join."""
    n = st.session_state.get(ROUND, 0)
    return f"_{n}" if n else ""


def _reason(joined: str, kept: str, labels: Mapping[str, str], seen: int) -> None:
    with st.form("data_join_form", border=False):
        left, right = st.columns(2)
        who = steward_parts.your_name(left, "data_join_who")
        why = right.text_input("Why they are one athlete", key="data_join_why")
        sent = st.form_submit_button("Join them")
    if not sent:
        return

    def action() -> list[str]:
        signed = steward_actions.SignedReason(who=who, why=why, seen=seen)
        steward_actions.join(signin.viewer(), joined, kept, signed)
        st.session_state[ROUND] = st.session_state.get(ROUND, 0) + 1
        return [f"Joined: {labels[joined]} into {labels[kept]}. It counts from the next rebuild."]

    steward_parts.do(action)
