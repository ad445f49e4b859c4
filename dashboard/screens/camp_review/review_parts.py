"""The form that hands out the files of a camp review."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import streamlit as st

from latewood.dashboard.actions import review_actions
from latewood.dashboard.reads.review_reads import ReviewChoice
from latewood.dashboard.reads.rows import Build
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.pages.camp.issue import FORMS, ReviewFiles
from latewood.pipeline.pages.handout import Handout

FORM_WORDS = {"pdf": "One page (PDF)", "csv": "Tables (CSV)", "xlsx": "Tables (Excel)"}
PAPERS = {"letter": "Letter", "a4": "A4"}
STAFF, OUTSIDE = "staff", "outside"
WHOM = {
    STAFF: "The program's staff",
    OUTSIDE: "Outsiders: nobody by name, nothing about fewer than 8 athletes",
}
MADE = {
    STAFF: "Made and noted in the audit log. Internal: for the program's staff only.",
    OUTSIDE: "Made and noted in the audit log. It may leave the program.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """What a form hands out: its key, what was chosen on the screen, the forms, and whether outsiders may have some."""

    key: str
    chosen: object
    forms: Sequence[str] = FORMS
    outside: bool = True


def export_form(build: Build, chosen: ReviewChoice) -> None:
    """Choose forms and paper for the files of one camp's review."""

    def export(whom: str, who: str, handout: Handout) -> ReviewFiles:
        action = review_actions.export_outside if whom == OUTSIDE else review_actions.export_review
        return action(build, chosen, who, handout)

    files_form(build, Files(key="review", chosen=chosen), export)


def roster_form(build: Build, camp_id: str) -> None:
    """Choose forms and paper for the roster of a camp with its test days; for staff only."""

    def export(whom: str, who: str, handout: Handout) -> ReviewFiles:
        return review_actions.export_roster(build, camp_id, who, handout)

    files_form(build, Files(key="roster", chosen=camp_id, forms=("pdf", "xlsx"), outside=False), export)


def files_form(build: Build, files: Files, export: Callable[[str, str, Handout], ReviewFiles]) -> None:
    """Choose forms, for whom and paper; what was made stays until something else is asked for."""
    if not build.viewer.holds("export"):
        parts.refused("Files of a camp review are the director's to hand out.")
        return
    key, ready = files.key, f"{files.key}_ready"
    with st.form(f"{key}_export"):
        forms = st.multiselect(
            "Forms", list(files.forms), ["pdf"], format_func=parts.named(FORM_WORDS), key=f"{key}_forms"
        )
        whom = STAFF
        if files.outside:
            whom = st.radio("For", list(WHOM), format_func=parts.named(WHOM), key=f"{key}_whom") or STAFF
        paper = st.radio(
            "Paper", list(PAPERS), format_func=parts.named(PAPERS), horizontal=True, key=f"{key}_paper"
        )
        who = ask_who(f"{key}_who")
        sent = st.form_submit_button("Make the files", type="primary")
    requested = (build.build_id, files.chosen, whom)
    if sent and (not who.strip() or not forms):
        st.error("Say who you are and pick at least one form.")
        return
    if sent:
        handout = Handout(forms=forms, paper=paper or "letter")

        def work() -> tuple[object, ...]:
            made = export(whom, who.strip(), handout)
            missing = [f"No {FORM_WORDS[form]}: {why}" for form, why in made.missing.items()]
            return requested, *packed(made.files, f"camp-{key}.zip"), missing

        if not parts.make(ready, "Making the files", work):
            return
    kept = parts.made(ready, tuple)
    if kept is not None and kept[0] == requested:
        st.success(MADE[whom])
        for why in kept[3]:
            st.warning(verbatim(why))
        st.download_button(
            f"Save {verbatim(kept[1])}", kept[2], kept[1], key=f"{key}_save", on_click="ignore"
        )


def packed(files: Mapping[str, bytes], name: str = "camp-review.zip") -> tuple[str, bytes]:
    """One file as it is, several as an archive."""
    if len(files) == 1:
        return next(iter(files.items()))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for one, content in files.items():
            archive.writestr(one, content)
    return name, out.getvalue()
