"""The sheets that are out: filtered, and all superseded ones issued again in one step."""

from __future__ import annotations

from datetime import date

import streamlit as st

from latewood.dashboard.actions import summary_actions
from latewood.dashboard.reads import warehouse
from latewood.dashboard.reads.rows import Build
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.summaries.acting import READY
from latewood.dashboard.screens.summaries.summary_parts import FORM_WORDS, show_ready
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.pages.recruit.sheets import STATES, SheetOut, to_issue_again

KEY = "again"
STATE_WORDS = {
    "in force": "In force", "superseded": "Superseded", "withdrawn": "Withdrawn", "expired": "Expired",
}  # fmt: skip


def draw(build: Build, today: date) -> None:
    """The register of the athletes whom the viewer may issue sheets for."""
    try:
        sheets = summary_actions.register_rows(build)
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    counts = {state: sum(one.state == state for one in sheets) for state in STATES}
    parts.words(" · ".join(f"{STATE_WORDS[state]}: {n}" for state, n in counts.items()))
    if not sheets:
        parts.empty("No sheet has been issued yet.")
        return
    _again(build, len(to_issue_again(sheets, today)))
    names = {a.athlete_id: a.display_name for a in warehouse.athletes(build)}
    states = st.segmented_control(
        "State", STATES, format_func=parts.named(STATE_WORDS), selection_mode="multi", key="summaries_states"
    )
    shown = [one for one in sheets if one.state in (states or STATES)]
    parts.table((_row(one, names) for one in shown), "Sheets that are out")


def _row(one: SheetOut, names: dict[str, str]) -> dict[str, str]:
    since = "" if one.state == "in force" else f" on {one.state_on.isoformat()}"
    return {
        "Athlete": names.get(one.athlete_id, one.athlete_id or "erased"), "Issued": one.issued_on.isoformat(),
        "State": f"{STATE_WORDS[one.state]}{since}" + (f": {one.why}" if one.why else ""),
        "For whom": one.recipient or "not noted", "Forms": ", ".join(FORM_WORDS.get(f, f) for f in one.forms),
        "Valid until": one.valid_until.isoformat(), "Page": one.page_hash[:8],
    }  # fmt: skip


def _again(build: Build, waiting: int) -> None:
    kept = f"{READY}{KEY}"
    if waiting:
        with st.form("summaries_again"):
            parts.words(
                f"Superseded and not replaced: {waiting}. Each is issued as it was chosen; each consent is asked again."
            )
            who = ask_who("summaries_who_again")
            sent = st.form_submit_button("Issue all of these again", type="primary")
        if sent and not who.strip():
            st.error("Say who you are.")
        elif sent:
            parts.make(kept, "Making the sheets", lambda: summary_actions.export_again(build, who.strip()))
    ready = parts.made(kept, summary_actions.Export)
    if ready is not None:
        show_ready(ready, KEY)
