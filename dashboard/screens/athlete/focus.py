"""The talk with athlete and parents: what changed since intake and since the last review, and the focus ahead."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from latewood.dashboard.actions import focus_actions
from latewood.dashboard.reads.rows import Stay
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text.wording import full_day, verbatim
from latewood.dashboard.views.athlete.since import Since, SinceSheet, build_since
from latewood.dashboard.views.athlete.timeline import Record
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.logs.focus import TEXT_LENGTH, Focus

NEXT_DAYS = 21
CAUTION = (
    "The focus is read by the athlete and the family. Write nothing medical and nothing about body mass or looks; one "
    "thing at a time."
)


def review(opened: parts.Opened, record: Record, stay: Stay) -> None:
    """What changed in sentences, the focus in force, earlier ones, and the form."""
    parts.section("Since intake, since the last review, and next")
    log = focus_actions.focus_log(opened.build, stay.athlete_id)
    own = [trend for trend in record.trends if trend.stay_id == stay.stay_id]
    sheet = build_since(own, record.values, log, opened.today, opened.lookup)
    _focus(opened, log)
    parts.words(sheet.review, "lw-small")
    if sheet.rows:
        label = f"What changed, in sentences: {len(sheet.rows)} measures"
        parts.on_opening(label, "athlete_sentences", lambda: _sentences(sheet))
    if opened.build.viewer.holds("set focus"):
        parts.on_opening(
            "Write the focus for the next weeks", "focus_write", lambda: _form(opened, stay.athlete_id, sheet)
        )


def _focus(opened: parts.Opened, log: tuple[Focus, ...]) -> None:
    for text in st.session_state.pop("focus_done", []):
        st.success(verbatim(text))
    if not log:
        parts.words("No focus is written down yet.")
        return
    st.html(f'<p class="lw-decided"><b>Focus:</b> {parts.safe(_text(opened, log[-1]))}</p>')
    if len(log) > 1:
        earlier = [_text(opened, one) for one in reversed(log[:-1])]
        parts.on_opening(f"Earlier: {len(earlier)}", "focus_earlier", lambda: parts.bullets(earlier))


def _text(opened: parts.Opened, one: Focus) -> str:
    known = one.measure in opened.lookup.measures
    shown = opened.lookup.label(one.measure) if known else one.measure
    return f"{one.text} Will show in: {shown}; look again on {full_day(one.until)}. ({one.by}, {full_day(one.on)})"


def _sentences(sheet: SinceSheet) -> None:
    st.html("".join(_sentence(row) for row in sheet.rows))


def _sentence(row: Since) -> str:
    later = f'<span class="lw-small">{parts.safe(row.since_review)}</span>' if row.since_review else ""
    return f'<p class="lw-sentence">{parts.safe(row.since_intake)}{later}</p>'


def _form(opened: parts.Opened, athlete_id: str, sheet: SinceSheet) -> None:
    parts.caution(CAUTION)
    measures = list(dict.fromkeys(row.measure for row in sheet.rows)) or list(opened.lookup.measures)
    with st.form(f"focus_form_{athlete_id}"):
        text = st.text_area("Focus for the next weeks", max_chars=TEXT_LENGTH, key=f"focus_text_{athlete_id}")
        measure = st.selectbox(
            "Measure that will show it",
            measures,
            format_func=opened.lookup.label,
            key=f"focus_measure_{athlete_id}",
        )
        until = st.date_input(
            "Look again on", opened.today + timedelta(days=NEXT_DAYS), key=f"focus_until_{athlete_id}"
        )
        who = ask_who(f"focus_who_{athlete_id}")
        if not st.form_submit_button("Write it down", type="primary"):
            return
    try:
        draft = focus_actions.FocusDraft(text=text, measure=measure or "", review_on=until)
        focus_actions.write_focus(opened.build, athlete_id, draft, who)
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    st.session_state["focus_done"] = ["Written down; today is the day of this review."]
    st.rerun()
