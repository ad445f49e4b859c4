"""Camp review: one camp on one page, with the printed sheet and the tables, for the program director."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from latewood.dashboard.charts.camp_review import forest_sheet, parts_sheet, sentences, struck
from latewood.dashboard.charts.drawing import exact
from latewood.dashboard.charts.stay_length import draw_stay_length, stay_text
from latewood.dashboard.reads import review_reads, warehouse
from latewood.dashboard.reads.review_reads import ReviewChoice
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.camp_review import test_days_part
from latewood.dashboard.screens.camp_review.review_parts import export_form, roster_form
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.text import empties
from latewood.dashboard.text.wording import verbatim
from latewood.dashboard.views.cohorts.review_plain import PARTS_KEY, not_grouped, plain_sentences
from latewood.pipeline.pages.camp.model import CampReview
from latewood.pipeline.pages.camp.page import CampPage, make_page

MOST_TESTED = ""
FIRST = 6  # gains drawn at once, in the order of the page; the others are in a fold


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Camp review")
    if opened is None:
        return
    camps = {camp.camp_id: camp.label for camp in warehouse.camps(opened.build)}
    if not camps:
        parts.empty(empties.NO_CAMP)
        return
    requested = st.query_params.get("camp")
    if requested is not None and requested not in camps:
        parts.refused(empties.NOT_YOURS)
        return
    left, right = st.columns(2)
    with left:
        camp = parts.pick(
            "Camp", list(camps), requested or next(iter(camps)), parts.named(camps), key="review_camp"
        )
    chosen = ReviewChoice(camp_id=camp or requested or next(iter(camps)), units=parts.units())
    first = review_reads.camp_review(opened.build, chosen)
    names = {MOST_TESTED: "the one with the most athletes"}
    names |= {
        f"{one.key}|{one.line}": opened.lookup.full_label(one.key, one.line)
        for one in first.gains
        if one.gain is not None
    }
    with right:
        lead = (
            parts.pick("First measure", list(names), MOST_TESTED, parts.named(names), key="review_lead") or ""
        )
    chosen = replace(chosen, lead=lead)
    review = review_reads.camp_review(opened.build, chosen)
    _draw(opened, review, make_page(review), chosen)


def _draw(opened: parts.Opened, review: CampReview, page: CampPage, chosen: ReviewChoice) -> None:
    parts.words(" · ".join(page.facts))
    parts.words(page.leavers)
    parts.section("What a fair comparison allows us to say")
    st.html(sentences(plain_sentences(review), page.sentences))
    with st.expander("Print this page, or take the tables"):
        export_form(opened.build, chosen)
    if opened.build.viewer.holds("export"):
        with st.expander("Print the roster with its test days"):
            roster_form(opened.build, chosen.camp_id)
    parts.section("Gains")
    if not page.lines:
        parts.empty(empties.NO_GAIN)
    st.html(forest_sheet(review, replace(page, lines=page.lines[:FIRST])))
    parts.folded(
        "More measures", page.lines[FIRST:], lambda more: forest_sheet(review, replace(page, lines=tuple(more))),
        "review_more",
    )  # fmt: skip
    if page.refused:
        small = f"Measures with no group number, single athletes only: {not_grouped(review)}"
        parts.sheet(exact(small, [page.refused]))
    st.page_link(
        file_of("cohorts"),
        label="Single athletes by name: open a number",
        query_params={"camp": review.camp_id},
    )
    parts.section("Parts of the camp")
    parts.words(PARTS_KEY, "lw-key")
    parts.sheet(exact("In full", [page.group_key]))
    for sheet, head in zip(review.groups, page.group_heads[1:], strict=True):
        with st.expander(verbatim(head)):
            st.html(parts_sheet(sheet))
            parts.words("Change by time in camp", "lw-key")
            parts.chart(draw_stay_length, sheet, opened.colours, [stay_text(sheet)])
    test_days_part.fold(opened, review.camp_id)
    st.subheader("Ways of measuring, and mass", anchor=False)
    for text in page.breaks:
        parts.words(text)
    parts.sheet(struck(page))
    parts.caution(*page.cautions)


if __name__ == "__main__":
    render()
