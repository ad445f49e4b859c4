"""Cohorts: what camps gained, for the program director."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from latewood.dashboard.charts.gains import gain_block, gain_key, gain_reach
from latewood.dashboard.reads import warehouse
from latewood.dashboard.reads.rows import Camp
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.cohorts import cohort_camps, cohort_links, cohort_years
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.text import cautions, empties
from latewood.dashboard.text.wording import FAMILIES, verbatim
from latewood.dashboard.views.cohorts.cohorts import (
    GainBlock,
    behind_links,
    build_blocks,
    build_camp_heads,
    by_chance,
    is_refused,
)
from latewood.pipeline.stats.change.camp_gains import LEVEL

FIRST_FAMILIES = ["skill_output", "speed", "strength"]


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Cohorts: what a camp gained")
    if opened is None:
        return
    camps = warehouse.camps(opened.build)
    if not camps:
        parts.empty(empties.NO_CAMP)
        return
    if not set(st.query_params.get_all("camp")) <= set(opened.lookup.camps):
        parts.refused(empties.NOT_YOURS)
        return
    picked, families = _pick(camps, opened.lookup.camps)
    chosen = [camp for camp in camps if camp.camp_id in picked]
    for head in build_camp_heads(chosen, warehouse.stays(opened.build)):
        st.markdown(f"**{verbatim(head.label)}**: {verbatim(head.text)}")
    if "camp_review" in opened.build.viewer.screens:
        for camp in chosen:
            label = "Camp review on one page" + (f": {verbatim(camp.label)}" if len(chosen) > 1 else "")
            st.page_link(file_of("camp_review"), label=label, query_params={"camp": camp.camp_id})
    cohort_links.links(opened, families)
    blocks = build_blocks(warehouse.cohort_gains(opened.build), picked, families, opened.lookup)
    if not blocks:
        parts.empty(empties.NO_GAIN)
        return
    _sheet(blocks)
    parts.words(by_chance(blocks, LEVEL))
    plain = [cautions.RAW_GAIN] if any(row.raw for one in blocks for row in one.rows) else []
    parts.caution(cautions.CAMP, *plain)
    cohort_years.years(opened, [camp.camp_id for camp in camps])
    cohort_camps.camps(opened, families)
    cohort_links.size(opened, families)


def _pick(camps: Sequence[Camp], labels: Mapping[str, Camp]) -> tuple[list[str], list[str]]:
    ids = [camp.camp_id for camp in camps]
    requested = [one for one in st.query_params.get_all("camp") if one in ids]
    names, (left, right) = {key: camp.label for key, camp in labels.items()}, st.columns(2)
    picked = (
        left.multiselect("Camps", ids, requested or ids[:1], parts.named(names), key="cohorts_camps")
        or ids[:1]
    )
    kinds = list(FAMILIES)
    families = right.multiselect(
        "Kinds of measure", kinds, FIRST_FAMILIES, parts.named(FAMILIES), key="cohorts_kinds"
    )
    if picked != requested:
        st.query_params["camp"] = picked
    return picked, families


def _sheet(blocks: Sequence[GainBlock]) -> None:
    shown = [block for block in blocks if not is_refused(block)]
    small = [block for block in blocks if is_refused(block)]
    st.html(gain_key())
    for block in shown:
        _row(block, gain_reach(shown))
    if small:
        with st.expander(f"Too few athletes for a group number: {len(small)}"):
            for block in small:
                _row(block, 1.0)


def _row(block: GainBlock, reach: float) -> None:
    links = behind_links(block)
    wide = 8 if len(links) == 1 else 5  # with a camp's name a link is longer, and nothing breaks its line
    row, link = st.columns([wide, 1], vertical_alignment="center")
    row.html(gain_block(block, reach))
    for camp_id, label in links:
        query = {"camp": camp_id, "measure": block.key}
        link.page_link(file_of("behind"), label=verbatim(label), query_params=query)


if __name__ == "__main__":
    render()
