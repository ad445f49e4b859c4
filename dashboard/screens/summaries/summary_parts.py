"""The forms of the Summaries screen: the sheet with its preview, a whole camp, and consent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import streamlit as st

from latewood.dashboard.actions import family_actions, summary_actions
from latewood.dashboard.reads.rows import Build
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.summaries import stated_part
from latewood.dashboard.screens.summaries.acting import READY, do
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text import cautions
from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.ingest.consent.agreed import DEFAULT_DAYS, EVERY, FAMILY, FIELDS, RECRUITING, Consent
from latewood.pipeline.ingest.consent.stated import LABELS
from latewood.pipeline.pages.handout import Handout
from latewood.pipeline.pages.recruit.issue import FORMS, LONGEST_RECIPIENT
from latewood.pipeline.pages.recruit.make import MOST, Choice

FIELD_WORDS = {
    "graduation_year": "Graduation year", "positions": "Positions", "sides": "Bats and throws", "height": "Height",
    "body_mass": "Body mass (the latest only)",
}  # fmt: skip
PURPOSES = {RECRUITING: "A summary for recruiters", FAMILY: "A page for the family itself"}
FORM_WORDS = {
    "pdf": "PDF",
    "html": "Web page",
    "json": "Data (JSON)",
    "csv": "Data (CSV)",
    "sig": "Signature",
}
PAPERS = {"letter": "Letter", "a4": "A4"}
SHEET_WIDTH = (
    860  # pixels of a previewed side: its small print can be read, and two sides are not a long page
)


def sheet_form(
    build: Build, athlete: str, desk: summary_actions.SummaryDesk, labels: Mapping[str, str]
) -> None:
    """Choose what the sheet shows, see it, and issue it."""
    measures = st.multiselect(
        "Measures", desk.measures, default=desk.measures[:MOST], format_func=parts.named(labels),
        max_selections=MOST, key=f"summaries_measures_{athlete}",
    )  # fmt: skip
    agreed = desk.consent is not None and desk.consent.projection
    projection = st.checkbox(
        "Show projections (agreed to)" if agreed else "Projections are not agreed to",
        disabled=not agreed, key=f"summaries_projection_{athlete}",
    )  # fmt: skip
    stated = _stated_choice(athlete, desk)
    paper = st.radio(
        "Paper", list(PAPERS), format_func=parts.named(PAPERS), horizontal=True, key="summaries_paper"
    )
    if not measures:
        st.info("Choose at least one measure.")
        return
    choice = Choice(
        measures=tuple(measures), units=parts.units(), projection=projection and agreed, stated=stated
    )
    shown, words = summary_actions.pictures(build, athlete, choice, paper)
    with st.container(border=True, width=SHEET_WIDTH):
        for number, sheet in enumerate(shown, start=1):
            caption = verbatim(f"Preview of the sheet, side {number} of {len(shown)}")
            st.image(sheet, width="stretch", caption=caption, alt=words)
    key = f"one_{athlete}"
    _issue(build, [athlete], key, choice, _requested(key, "Issue this summary", paper))


def _stated_choice(athlete: str, desk: summary_actions.SummaryDesk) -> tuple[str, ...]:
    fields = [one.field for one in desk.consent.stated] if desk.consent is not None else []
    if not fields:
        return ()
    return tuple(
        st.multiselect(
            "Stated by the family, marked as not checked", fields, default=fields, format_func=parts.named(LABELS),
            key=f"summaries_shown_{athlete}_{'_'.join(fields)}",
        )
    )  # fmt: skip


def camp_form(build: Build, athletes: Sequence[str], label: str) -> None:
    """Issue for everyone of a camp whose consent stands."""
    st.subheader(f"The whole of {verbatim(label)}", anchor=False)
    parts.words(
        "Everyone whose consent stands gets a sheet with all that was agreed to; the others are listed."
    )
    key = f"camp_{label}"
    _issue(build, athletes, key, Choice(units=parts.units()), _requested(key, "Issue for the camp", "letter"))


@dataclass(frozen=True, slots=True, kw_only=True)
class IssueRequest:
    """Who asks for sheets, and in which forms."""

    who: str
    handout: Handout


def _requested(key: str, label: str, paper: str) -> IssueRequest | None:
    """The form under a sheet; None until it is sent with a name and a form."""
    with st.form(f"summaries_issue_{key}"):
        forms = st.multiselect(
            "Forms", list(FORMS), default=["pdf"], format_func=parts.named(FORM_WORDS), key=f"summaries_forms_{key}"
        )  # fmt: skip
        recipient = st.text_input(
            "For whom (optional; for your register only, printed nowhere)", key=f"summaries_recipient_{key}",
            max_chars=LONGEST_RECIPIENT,
        )  # fmt: skip
        who = ask_who(f"summaries_who_{key}")
        sent = st.form_submit_button(verbatim(label), type="primary")
    if sent and (not who.strip() or not forms):
        st.error("Say who you are and pick at least one form.")
    if not sent or not who.strip() or not forms:
        return None
    return IssueRequest(who=who.strip(), handout=Handout(forms=forms, paper=paper, recipient=recipient))


def _issue(
    build: Build, athletes: Sequence[str], key: str, choice: Choice, requested: IssueRequest | None
) -> None:
    kept = f"{READY}{key}"
    if requested is not None:
        asked = requested
        if not parts.make(
            kept,
            "Making the sheets",
            lambda: summary_actions.export(build, athletes, asked.who, choice, asked.handout),
        ):
            return
    ready = parts.made(kept, summary_actions.Export)
    if ready is not None:
        show_ready(ready, key)


def show_ready(ready: summary_actions.Export, key: str) -> None:
    """What was issued, to be saved, and who was refused."""
    if ready.n:
        st.success(f"Sheets issued and noted in the register: {ready.n:d}.")
        st.download_button(
            f"Save {verbatim(ready.file_name)}", ready.content, ready.file_name, key=f"summaries_save_{key}",
            on_click="ignore",
        )  # fmt: skip
    if ready.refused:
        st.warning(f"Refused: {len(ready.refused)}.")
        parts.table(({"Who": name, "Why": why} for name, why in ready.refused), "Athletes without a summary")


def consent_form(
    build: Build, athlete: str, name: str, desk: summary_actions.SummaryDesk, today: date
) -> None:
    """Give or withdraw consent; what cannot be undone is said first."""
    given = desk.consent
    if given is not None and given.withdrawn_on is None:
        with st.expander("Withdraw the consent"):
            parts.caution(cautions.CALLED_BACK)
            who = ask_who(f"summaries_withdraw_who_{athlete}")
            if st.button("Withdraw now", key=f"summaries_withdraw_{athlete}"):
                if who.strip():
                    do(lambda: summary_actions.withdraw_consent(build, athlete, who.strip()))
                st.error("Say who you are.")
    if st.toggle("What the family states (school, contact, film)", key=f"summaries_stated_{athlete}"):
        stated_part.draw(build, athlete, desk.consent, today)
    if st.toggle("Consent to pages for the family", key=f"summaries_family_{athlete}"):
        _family_consent(build, athlete)
    with (
        st.expander("Record a consent", expanded=bool(desk.why_not)),
        st.form(f"summaries_consent_{athlete}"),
    ):
        parts.caution(cautions.CALLED_BACK)
        parts.words(f"From the signed form for {name}.")
        _consent_fields(build, athlete, today)


def _family_consent(build: Build, athlete: str) -> None:
    why = family_actions.why_not(build, athlete)
    parts.words(
        f"No page may be made: {why}."
        if why
        else "A page for the family may be made, on the athlete's own screen."
    )
    if family_actions.may_withdraw(build, athlete):
        who = ask_who(f"summaries_family_who_{athlete}")
        if st.button("Withdraw now", key=f"summaries_family_withdraw_{athlete}"):
            if who.strip():
                do(lambda: family_actions.withdraw(build, athlete, who.strip()))
            st.error("Say who you are.")


def _consent_fields(build: Build, athlete: str, today: date) -> None:
    at = f"summaries_{athlete}"
    purpose = st.radio(
        "For", list(PURPOSES), format_func=parts.named(PURPOSES), horizontal=True, key=f"{at}_for"
    )
    given_by = st.radio("Given by", ["guardian", "athlete"], horizontal=True, key=f"{at}_by",
                        captions=["for everyone under 18", "from 18 on"])  # fmt: skip
    given_on = st.date_input("Signed on", today, key=f"{at}_on")
    until = st.date_input("Ends on", today + timedelta(days=DEFAULT_DAYS), key=f"{at}_until")
    fields = st.multiselect(
        "What may be shown", FIELDS, default=FIELDS, format_func=parts.named(FIELD_WORDS), key=f"{at}_fields"
    )
    measures = st.text_input("Measures: all, none, or keys with commas", EVERY, key=f"{at}_measures")
    projection = st.checkbox("Projections may be shown", key=f"{at}_proj")
    photo = st.checkbox("A photo may be shown (the sheet holds none today)", key=f"{at}_photo")
    reference = st.text_input("Where the signed form is kept", key=f"{at}_ref")
    who = ask_who(f"{at}_who")
    if not st.form_submit_button("Record"):
        return
    if not who.strip() or not reference.strip():
        st.error("Say who you are and where the signed form is kept.")
        return
    listed = [w.strip() for w in measures.split(",") if w.strip() and w.strip() != "none"]
    consent = Consent(
        athlete_id=athlete, given_by=given_by, given_on=given_on, expires_on=until, fields=tuple(fields),
        measures=tuple(listed), projection=projection, photo=photo, reference=reference.strip(), purpose=purpose,
    )  # fmt: skip
    do(lambda: summary_actions.give_consent(build, consent, who.strip()))
