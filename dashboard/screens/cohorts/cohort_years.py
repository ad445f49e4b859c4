"""The block of the cohorts screen that sets all camps beside each other, oldest first."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from latewood.dashboard.actions import review_actions
from latewood.dashboard.charts.camps_apart import camps_table, years_rows
from latewood.dashboard.reads import review_reads
from latewood.dashboard.reads.review_reads import YearsChoice
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.camp_review.review_parts import OUTSIDE, Files, files_form
from latewood.pipeline.pages.camp.issue import ReviewFiles
from latewood.pipeline.pages.handout import Handout
from latewood.pipeline.pages.years.page import make_years_page


def years(opened: parts.Opened, camp_ids: Sequence[str]) -> None:
    """All camps the viewer may see, the output picked; nothing where there is one camp only."""
    if len(camp_ids) > 1:
        chosen = YearsChoice(camps=tuple(sorted(camp_ids)), units=parts.units())
        parts.on_opening("Camps over the years", "cohorts_years_fold", lambda: _years(opened, chosen))


def _years(opened: parts.Opened, chosen: YearsChoice) -> None:
    made = review_reads.camps_over_years(opened.build, chosen)
    page = make_years_page(made)
    parts.section("Camps over the years")
    st.html(camps_table(page))
    for words in page.sentences:
        parts.words(words)
    by_key = {row.key: row for row in page.rows}
    if by_key:
        names = {key: f"{row.name} ({row.method})" if row.method else row.name for key, row in by_key.items()}
        picked = parts.pick(
            "Output over the years", list(names), next(iter(names)), parts.named(names), key="cohorts_years"
        )
        st.html(years_rows(made, by_key[picked or next(iter(names))]))
    parts.words(page.once, "lw-small")
    st.markdown("**What changed in the ways of measuring**")
    parts.bullets(page.changed)
    parts.caution(*page.cautions)
    if opened.build.viewer.holds("export"):
        with st.expander("Print the camps on one page, or take the tables"):
            _files(opened, chosen)


def _files(opened: parts.Opened, chosen: YearsChoice) -> None:
    def export(whom: str, who: str, handout: Handout) -> ReviewFiles:
        asked = YearsChoice(camps=chosen.camps, units=chosen.units, outside=whom == OUTSIDE)
        return review_actions.export_years(opened.build, asked, who, handout)

    files_form(opened.build, Files(key="years", chosen=chosen), export)
