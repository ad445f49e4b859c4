"""Weigh-in and test-day entry on a tablet: everybody on one screen, each value saved at once."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.reads import entry_reads
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.weighin import entry_parts
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text import cautions, empties
from latewood.dashboard.views.weighin.typing import running_camps
from latewood.pipeline.catalogue import handles


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Weigh-in and tests")
    if opened is None:
        return
    st.html(entry_parts.LOST)
    camps = running_camps(opened.lookup, opened.today)
    if not camps:
        parts.empty(empties.NOBODY_HERE)
        return
    measures = entry_reads.measures(opened.build)
    labels = {key: one.label for key, one in measures.items()}
    with st.container(key="weighin_station"):
        left, middle, right = st.columns(3)
    with left:
        camp = parts.pick("Camp", list(camps), next(iter(camps)), parts.named(camps), key="weighin_camp")
    with middle:
        requested = st.query_params.get("measure", handles.BODY_MASS)
        station = parts.pick(
            "What is measured", list(labels), requested if requested in labels else handles.BODY_MASS,
            parts.named(labels), key="weighin_measure",
        )  # fmt: skip
    with right:
        who = ask_who("weighin_who")
    if camp is None or station is None:
        return
    measure = measures[station]
    is_mass = station == handles.BODY_MASS
    if is_mass:
        parts.caution(cautions.PRIVATE)
    preset = entry_parts.preset(opened, measure)
    entry_parts.rows(opened, camp, measure, preset, who)


if __name__ == "__main__":
    render()
