"""Case of a stay: one page from intake to exit, made from the records, with the coach's own words beside it."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.actions import case_actions
from latewood.dashboard.charts.drawing import exact
from latewood.dashboard.reads.rows import Stay
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.athlete import blocks
from latewood.dashboard.screens.camp_review.review_parts import PAPERS
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text import empties
from latewood.dashboard.text.plain_reasons import plain_reason
from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.logs.case_words import PARTS, TEXT_LENGTH, NewWords
from latewood.pipeline.pages.case.make import HEADS
from latewood.pipeline.pages.case.page import CaseLine, CasePage, CasePart

CAUTION = (
    "Write nothing medical, and nothing about looks. The family reads a text only where you mark it, and only where "
    "they agreed to family pages."
)
STAFF, FAMILY = "staff", "family"
WHOM = {STAFF: "The program's staff", FAMILY: "The family, where consent to that stands"}
DONE = "case_done"
LISTED = 3  # measures of second rank that are named at first sight; more stand at a tap


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Case of a stay")
    if opened is None:
        return
    requested = st.query_params.get("athlete", "")
    if requested not in opened.lookup.athletes:
        parts.refused(empties.NOT_YOURS if requested else "Open the case from an athlete's page.")
        return
    parts.athlete_link(requested, f"Back to {opened.lookup.name(requested)}")
    stay = opened.lookup.stays.get(blocks.pick_stay(opened, requested) or "")
    if stay is None:
        parts.empty("No stay at a camp is on record, so there is no case. Import a stays file in Data.")
        return
    try:
        page = case_actions.case_page(opened.build, stay, parts.units())
    except LatewoodError as error:
        parts.refused(verbatim(str(error)))
        return
    _page(page)
    viewer = opened.build.viewer
    if viewer.holds("write case"):
        parts.on_opening("Write your own words", "case_write", lambda: _form(opened, stay))
    if viewer.holds("print case") or viewer.holds("family page"):
        parts.on_opening("Print it (PDF)", "case_print", lambda: _print(opened, stay))


def _page(page: CasePage) -> None:
    for text in st.session_state.pop(DONE, []):
        st.success(verbatim(text))
    st.subheader(verbatim(page.name), anchor=False)
    parts.words(page.facts)
    for part in page.parts:
        _part(part)
    parts.words(" ".join((*page.cares, page.provenance)), "lw-small")


def _part(part: CasePart) -> None:
    st.subheader(verbatim(part.head), anchor=False)
    left, right = st.columns([5, 2]) if part.words is not None else (st.container(), st.container())
    with left:
        parts.sheet("".join(map(_line, part.lines)))
        if part.caution:
            parts.caution(part.caution)
    if part.words is not None:
        with right:
            parts.sheet(f'<p class="lw-decided">“{parts.safe(part.words.text)}”{_small(part.words.by)}</p>')


def _line(one: CaseLine) -> str:
    """One line; where a reason stands in brackets the plain one, with the exact one and the source at a tap."""
    listed = one.text.count("; ") + 1
    if listed > LISTED and not one.reason:
        below = exact(f"{listed} measures", [one.text, one.source])
        return f'<div class="lw-case">{_bold(one.name)}{below}</div>'
    head, plain = f"{_bold(one.name)}{parts.safe(one.text)}", plain_reason(one.reason)
    if not one.reason or plain == one.reason:
        return f'<p class="lw-case">{head}{_small(one.source)}</p>'
    said = f"{_bold(one.name)}{parts.safe(one.text.split(' (')[0])}."
    return f'<div class="lw-case">{said}{exact(plain, [one.reason, one.source])}</div>'


def _bold(text: str) -> str:
    return f"<b>{parts.safe(text)}:</b> " if text else ""


def _small(text: str) -> str:
    return f' <span class="lw-small">{parts.safe(text)}</span>' if text else ""


def _form(opened: parts.Opened, stay: Stay) -> None:
    parts.caution(CAUTION)
    with st.form(f"case_form_{stay.stay_id}", clear_on_submit=False):
        part = st.selectbox(
            "Part", list(PARTS), format_func=parts.named(HEADS), key=f"case_part_{stay.stay_id}"
        )
        text = st.text_area(
            "Your words; empty takes back what stands there",
            max_chars=TEXT_LENGTH,
            key=f"case_text_{stay.stay_id}",
        )
        family = st.checkbox("The family may read it", key=f"case_family_{stay.stay_id}")
        who = ask_who(f"case_who_{stay.stay_id}")
        if not st.form_submit_button("Write it down", type="primary"):
            return
    draft = NewWords(
        athlete_id=stay.athlete_id, stay_id=stay.stay_id, part=part or "", text=text, family=family
    )
    try:
        case_actions.write_words(opened.build, stay, draft, who)
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    st.session_state[DONE] = ["Written down with your name and the day."]
    st.rerun()


def _print(opened: parts.Opened, stay: Stay) -> None:
    viewer, ready = opened.build.viewer, f"case_ready_{stay.stay_id}"
    whom = [key for key, right in ((STAFF, "print case"), (FAMILY, "family page")) if viewer.holds(right)]
    with st.form(f"case_print_form_{stay.stay_id}"):
        picked = st.radio("For", whom, format_func=parts.named(WHOM), key=f"case_whom_{stay.stay_id}")
        paper = st.radio(
            "Paper", list(PAPERS), format_func=parts.named(PAPERS), horizontal=True,
            key=f"case_paper_{stay.stay_id}",
        )  # fmt: skip
        who = ask_who(f"case_print_who_{stay.stay_id}")
        sent = st.form_submit_button("Make the page", type="primary")
    if sent and not who.strip():
        st.error("Say who you are.")
        return
    if sent:
        st.session_state.pop(ready, None)
        make = case_actions.print_for_family if picked == FAMILY else case_actions.print_case
        units = parts.units()
        if not parts.make(
            ready,
            "Making the page",
            lambda: make(opened.build, stay, who.strip(), units, paper or "letter"),
        ):
            return
    made = parts.made(ready, dict)
    if made is not None:
        name, content = next(iter(made.items()))
        st.success("Made and noted in the audit log. No copy is kept here.")
        st.download_button(
            f"Save {verbatim(name)}", content, name, key=f"case_save_{stay.stay_id}", on_click="ignore"
        )


if __name__ == "__main__":
    render()
