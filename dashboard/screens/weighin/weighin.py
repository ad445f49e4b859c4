"""Weigh-in and test-day entry on a tablet: one athlete at a time, or everybody in a list; each value saved at once."""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from latewood.dashboard.reads import entry_reads
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.weighin import entry_parts, pad
from latewood.dashboard.screens.weighin.station import how_measured, station_now
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text import cautions, empties
from latewood.dashboard.text.wording import joined
from latewood.dashboard.views.weighin.line import tally_text
from latewood.dashboard.views.weighin.typing import EntryMeasure, present, running_camps
from latewood.pipeline.catalogue import handles

ONE, ALL = "One at a time", "Everybody"


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
    view, top = _view(), st.container()
    picked = _set_up(opened, camps)
    if picked is None:
        return
    camp, measure, who = picked
    if measure.measure == handles.BODY_MASS:
        parts.caution(cautions.PRIVATE)
    chosen = how_measured(opened, measure)
    missing = entry_reads.missing(measure.measure, chosen[1])
    names = present(opened.lookup, camp, opened.today)
    answers = pad.take(opened, names)
    ready = not missing and view == ONE
    with top if ready and who else st.container():  # set up once: then the next in line is what is seen first
        if ready:
            station = station_now(opened, measure, chosen, who)
            line = entry_parts.line_of_station(station, names)
            parts.words(tally_text(line))
            pad.draw(station, line, answers)
        else:
            pad.draw_waiting(answers)
    if missing:
        parts.words(
            f"Set first, above: {joined([one.lower() for one in missing])}. "
            "A value without them can be compared with no other."
        )
    if ready or missing:
        entry_parts.build_part(opened)
    else:
        entry_parts.rows(opened, camp, measure, chosen, who)


def _view() -> str:
    """One athlete at a time, or the list of all, which is one tap away."""
    first = ALL if st.query_params.get("view") == "all" else ONE
    return st.segmented_control(
        "View", [ONE, ALL], default=first, key="weighin_view", label_visibility="collapsed", required=True
    )


def _set_up(opened: parts.Opened, camps: Mapping[str, str]) -> tuple[str, EntryMeasure, str] | None:
    """The camp, what is measured and who measures; None until camp and measure are picked."""
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
    return None if camp is None or station is None else (camp, measures[station], who)


if __name__ == "__main__":
    render()
