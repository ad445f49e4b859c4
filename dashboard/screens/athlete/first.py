"""The first sight of an athlete, and the way to the athletes before and after them."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.charts.first import output_cards
from latewood.dashboard.reads import plan_reads
from latewood.dashboard.reads.rows import Stay
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.athlete import blocks
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.views.athlete.first import build_first, plan_links
from latewood.dashboard.views.athlete.head import neighbours_of
from latewood.dashboard.views.athlete.timeline import Record


def neighbours(opened: parts.Opened, athlete_id: str) -> None:
    """Links to the athletes before and after in the camp, by name, to the case and to Compare."""
    before, after = neighbours_of(athlete_id, opened.lookup)
    with st.container(horizontal=True, gap="medium", key="athlete_neighbours"):
        for word, one in (("Previous", before), ("Next", after)):
            if one is not None:
                label = parts.verbatim(f"{word}: {opened.lookup.name(one)}")
                query = {"athlete": one}
                st.page_link(file_of("athlete"), label=label, query_params=query, width="content")
        for key, label in (("case", "Case of the stay"), ("compare", "Compare")):
            st.page_link(file_of(key), label=label, query_params={"athlete": athlete_id}, width="content")


def draw(opened: parts.Opened, athlete_id: str, record: Record, stay: Stay | None) -> None:
    """What changed for sure, what waits, strength, and the outputs looked at first."""
    athlete = opened.lookup.athletes[athlete_id]
    retests = plan_reads.retests(opened.build, athlete_id)
    view = build_first(athlete, stay, record, retests, opened.lookup)
    parts.words(" · ".join(view.strength))
    parts.words(view.sure, "lw-first")
    parts.words(view.waits, "lw-first")
    if "plan" in opened.build.viewer.screens:
        for plan in plan_links(plan_reads.words(opened.build), athlete_id, opened.today, opened.lookup):
            st.page_link(
                file_of("plan"), label=parts.verbatim(plan.text), query_params={"plan": plan.plan_id}
            )
    blocks.set_targets(opened, athlete_id, record.values, waiting=True)
    parts.sheet(output_cards(view.outputs, opened.colours))
