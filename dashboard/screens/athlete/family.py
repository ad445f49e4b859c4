"""The block of the athlete page that makes the plain-language page for athlete and family."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.actions import family_actions
from latewood.dashboard.reads.rows import Build
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.camp_review.review_parts import PAPERS, packed
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.pages.family.issue import FORMS
from latewood.pipeline.pages.handout import Handout

FORM_WORDS = {"pdf": "Print (PDF)", "html": "For the phone (web page)"}
WHAT = (
    "Up to six measures in plain words, the focus, and cautions. No peers, no projections; body mass only where the "
    "family asked for it and the athlete has not hidden it. Hand it to the athlete or the guardian, nobody else."
)


def family(build: Build, athlete_id: str) -> None:
    """Choose the forms, or read why no page may be made."""
    if not build.viewer.holds("family page"):
        return
    parts.section("Page for athlete and family")
    if st.toggle(
        "Make the page", key=f"family_open_{athlete_id}"
    ):  # consents are read anew, which takes a second
        parts.words(WHAT, "lw-small")
        why = family_actions.why_not(build, athlete_id)
        if why:
            parts.refused(
                f"No page: {verbatim(why)}. The director records a consent for this purpose under Summaries."
            )
            return
        _form(build, athlete_id)


def _form(build: Build, athlete_id: str) -> None:
    ready = f"family_ready_{athlete_id}"
    with st.form(f"family_form_{athlete_id}"):
        forms = st.multiselect(
            "Forms",
            list(FORMS),
            ["pdf"],
            format_func=parts.named(FORM_WORDS),
            key=f"family_forms_{athlete_id}",
        )
        paper = st.radio(
            "Paper",
            list(PAPERS),
            format_func=parts.named(PAPERS),
            horizontal=True,
            key=f"family_paper_{athlete_id}",
        )
        who = ask_who(f"family_who_{athlete_id}")
        sent = st.form_submit_button("Make the page", type="primary")
    if sent and (not who.strip() or not forms):
        st.error("Say who you are and pick at least one form.")
        return
    if sent:
        handout, units = Handout(forms=forms, paper=paper or "letter"), parts.units()

        def work() -> tuple[object, ...]:
            made = family_actions.family_page(build, athlete_id, who.strip(), handout, units)
            return (*packed(made.files, "family-page.zip"), made.missing)

        if not parts.make(ready, "Making the page", work):
            return
    if made := parts.made(ready, tuple):
        name, content, missing = made
        for form, why in missing.items():
            st.warning(verbatim(f"No {form}: {why}"))
        st.success("Made and noted in the audit log.")
        st.download_button(
            f"Save {verbatim(name)}", content, name, key=f"family_save_{athlete_id}", on_click="ignore"
        )
