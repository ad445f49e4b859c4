"""The block of the cohorts screen that tells what goes with added mass and added strength in all camps."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from latewood.dashboard.charts.links import link_sheet
from latewood.dashboard.reads import camp_reads, warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.text import cautions
from latewood.dashboard.views.athlete.strength_link import LinkBlock, ProgramLinks, build_links
from latewood.dashboard.views.cohorts.size import size_sentences
from latewood.dashboard.views.cohorts.staggered import staggered_sentences

WHAT = "All camps together, each athlete against their own steady course; one camp is too few to tell."


def links(opened: parts.Opened, families: Sequence[str]) -> None:
    """Mass and strength beside each other, the output picked; refusals in a fold."""
    build = opened.build
    estimated = ProgramLinks(
        mass=warehouse.mass_links(build),
        strength=warehouse.strength_links(build),
        carried=warehouse.mass_or_strength(build),
        spreads=camp_reads.link_spreads(build),
    )
    blocks = build_links(estimated, families, opened.lookup)
    if not blocks:
        return
    label = "What goes with added mass and added strength"
    parts.on_opening(label, "cohorts_links_fold", lambda: _links(blocks))
    words = staggered_sentences(camp_reads.staggered_links(build), families, opened.lookup)
    if words:
        with st.expander(f"Told from plan starts that were drawn by lot: {len(words)}"):
            parts.bullets(words)
            parts.caution(cautions.DRAWN_STARTS)
            parts.how_sure("Drawn starts")


def _links(blocks: Sequence[LinkBlock]) -> None:
    parts.how_sure("What goes with added mass and added strength")
    parts.words(WHAT)
    given = [block for block in blocks if not block.refused]
    if given:
        by_name = {block.name: block for block in given}
        name = parts.pick("Output", list(by_name), given[0].name, str, key="cohorts_link")
        parts.sheet(link_sheet([by_name[name or given[0].name]]))
    else:
        parts.words("Nothing can be said for these kinds of measure yet; the reasons are in the fold.")
    parts.folded(
        "Not enough to say", [block for block in blocks if block.refused], link_sheet, "links_refused"
    )
    parts.caution(cautions.ASSOCIATION, cautions.OWN_RATE)


def size(opened: parts.Opened, families: Sequence[str]) -> None:
    """How lifted loads and forces go with body size, in a fold; nothing where the kinds picked hold none."""
    words = size_sentences(warehouse.size_exponents(opened.build), families, opened.lookup)
    if words:
        with st.expander(f"How strength goes with body size: {len(words)}"):
            parts.bullets(words)
            parts.caution(cautions.ASSOCIATION, cautions.BODY_SIZE)
