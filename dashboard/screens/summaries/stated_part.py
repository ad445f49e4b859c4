"""What the family states for the sheet: what is there, one field at a time, each under a consent of its own."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import partial

import streamlit as st

from latewood.dashboard.actions import summary_actions
from latewood.dashboard.reads.rows import Build
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.summaries.acting import do
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text import cautions
from latewood.pipeline.ingest.consent.agreed import DEFAULT_DAYS, Consent
from latewood.pipeline.ingest.consent.stated import LABELS, LONGEST, STATED, Statement


def draw(build: Build, athlete: str, consent: Consent | None, today: date) -> None:
    """The statements of today with a button to take each back, and the form for a new one."""
    stated = consent.stated if consent is not None else ()
    parts.caution(cautions.STATED)
    if not stated:
        parts.words("Nothing is stated, or its consent has ended: the sheet has no such line.")
    for one in stated:
        parts.words(f"{LABELS[one.field]}, until {one.until.isoformat()}: {one.text}")
    if stated:
        _withdraw(build, athlete, stated)
    with st.form(f"summaries_state_{athlete}"):
        _new(build, athlete, today)


def _withdraw(build: Build, athlete: str, stated: Sequence[Statement]) -> None:
    at = f"summaries_stated_{athlete}"
    who = ask_who(f"{at}_who")
    with st.container(horizontal=True):
        pressed = [
            one.field
            for one in stated
            if st.button(f"Withdraw: {LABELS[one.field]}", key=f"{at}_{one.field}_withdraw")
        ]
    for field in pressed:
        if who.strip():
            do(partial(summary_actions.withdraw_statement, build, athlete, field, who.strip()))
        else:
            st.error("Say who you are.")


def _new(build: Build, athlete: str, today: date) -> None:
    at = f"summaries_state_{athlete}"
    field = st.selectbox("Field", STATED, format_func=parts.named(LABELS), key=f"{at}_field")
    text = st.text_input("What is to be printed", max_chars=max(LONGEST.values()), key=f"{at}_text")
    given_by = st.radio(
        "Given by", ["guardian", "athlete"], horizontal=True, captions=["for everyone under 18", "from 18 on"],
        key=f"{at}_by",
    )  # fmt: skip
    until = st.date_input("May be printed until", today + timedelta(days=DEFAULT_DAYS), key=f"{at}_until")
    reference = st.text_input("Where the signed form is kept", key=f"{at}_ref")
    who = ask_who(f"{at}_who")
    if not st.form_submit_button("Record what is stated"):
        return
    if not who.strip() or not reference.strip():
        st.error("Say who you are and where the signed form is kept.")
        return
    given = Consent(
        athlete_id=athlete, given_by=given_by, given_on=today, expires_on=until, fields=(), measures=(), photo=False,
        projection=False, reference=reference.strip(), purpose=field, statement=" ".join(text.split()),
    )  # fmt: skip
    do(lambda: summary_actions.give_consent(build, given, who.strip()))
