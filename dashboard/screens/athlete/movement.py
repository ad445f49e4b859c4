"""The movement blocks of the athlete page: two days overlaid, days, their order, and one trial as recorded."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import partial

import streamlit as st

from latewood.dashboard.charts.movement import movement_rows, movement_sheet, movement_words
from latewood.dashboard.charts.timing import draw_timing
from latewood.dashboard.charts.trace import draw_trace
from latewood.dashboard.reads import movement_reads, warehouse
from latewood.dashboard.reads.rows import MovementReading
from latewood.dashboard.reads.trace_rows import TraceRow
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.athlete.film import film
from latewood.dashboard.screens.athlete.overlay import overlay
from latewood.dashboard.screens.athlete.sections import MOVEMENT
from latewood.dashboard.text import cautions
from latewood.dashboard.text.wording import full_day, verbatim
from latewood.dashboard.views.athlete.movement import build_movement
from latewood.dashboard.views.athlete.order import OrderSheet, build_order_sheet
from latewood.dashboard.views.athlete.timing import TimingChart, build_timing
from latewood.dashboard.views.athlete.trace import build_trace, first_worth_a_look, trials_of_day
from latewood.pipeline.errors import LatewoodError

OVERLAY = "All segments on one time axis, two days over each other"
MOVEMENT_KEY = (
    "Each row is a segment, from the ground up. The mark is the middle trial's time of peak rotational speed, the grey "
    "stretch all trials, the upright line the event. Where each mark stands right of the one above, the order is kept."
)
TIMING_KEY = (
    "Letters: P pelvis, T torso, L lead arm, U upper arm, F forearm, H hand, B bat; each at its middle trial. "
    "Thin line: all trials of the day. Grey stretch: how far the day's value moves by measurement error alone (95 %)."
)
TRACE_KEY = (
    "Open dots are the samples as recorded, the line is the filtered curve, the diamond its peak. A dashed box is a "
    "stretch that was not recorded truly; no peak is ever read across it. Signs stand as recorded."
)
REPEAT_KEY = (
    "Agreement of trials on the order (out of order, together, in order) beyond chance: 1 is perfect, 0 is what chance "
    "alone gives. Low numbers mean that the next day may well show another order."
)


def movement(opened: parts.Opened, athlete_id: str) -> None:
    """Order and timing of peak rotational speeds."""
    doubts = warehouse.athlete_movement_doubts(opened.build, athlete_id)
    readings = warehouse.athlete_movement(opened.build, athlete_id)
    orders = movement_reads.orders(opened.build, athlete_id)
    days = build_movement(readings, doubts, orders, opened.lookup)
    traces = movement_reads.traces(opened.build, athlete_id)
    if not days and not traces:
        return
    parts.section("Order and timing of movement")
    if days:
        parts.sheet(movement_words(days[0]))
    if traces:
        alone = st.session_state.get(f"athlete_section_{athlete_id}") == MOVEMENT
        parts.on_opening(
            OVERLAY, f"overlay_open_{athlete_id}",
            partial(overlay, opened, athlete_id, traces, readings), at_first=alone,
        )  # fmt: skip
    if days:
        parts.words(MOVEMENT_KEY, "lw-key")
        parts.sheet(movement_rows(days[0]))
        parts.folded("Earlier test days", days[1:], movement_sheet, "movement_earlier")
    for view in build_timing(readings, doubts, opened.lookup):
        label = f"Timing of the peaks day by day: {verbatim(view.action)}"
        parts.on_opening(label, f"movement_days_{view.action}", partial(_day_by_day, opened, view))
    result = movement_reads.changes(opened.build, athlete_id)
    _order(build_order_sheet(result, movement_reads.repeatability(opened.build), orders))
    if traces:
        _trace(opened, athlete_id, traces, readings)
    parts.caution(cautions.MOVEMENT)


def _day_by_day(opened: parts.Opened, view: TimingChart) -> None:
    if view.marks:
        parts.words(TIMING_KEY, "lw-key")
        parts.chart(draw_timing, view, opened.colours, [view.alt])
    for note in view.notes:
        parts.words(f"{note.day}: {note.text}.", "lw-small")


def _order(sheet: OrderSheet) -> None:
    if not sheet.changes and not sheet.repeats:
        return

    def inside() -> None:
        if sheet.changes:
            parts.table(sheet.changes, "Trials in order on the latest day and on earlier ones")
        if sheet.repeats:
            parts.words(REPEAT_KEY, "lw-key")
            parts.bullets(sheet.repeats)

    parts.on_opening("Has the order changed, and how far does it repeat?", "movement_order", inside)


def _trace(
    opened: parts.Opened, athlete_id: str, traces: Sequence[TraceRow], readings: Sequence[MovementReading]
) -> None:
    """One trial as recorded, read from its file once it is asked for: its panels take as long as the whole page."""
    parts.section("One trial as recorded")
    parts.on_opening(
        "Draw it", f"trace_open_{athlete_id}", lambda: _picked_trace(opened, athlete_id, traces, readings)
    )


def _picked_trace(
    opened: parts.Opened, athlete_id: str, traces: Sequence[TraceRow], readings: Sequence[MovementReading]
) -> None:
    labels = {one.isoformat(): full_day(one) for one in sorted({r.measured_on for r in traces}, reverse=True)}
    left, right = st.columns(2)
    with left:
        day = parts.pick(
            "Day", list(labels), next(iter(labels)), parts.named(labels), key=f"trace_day_{athlete_id}"
        )
    on = date.fromisoformat(day or next(iter(labels)))
    trials = trials_of_day(traces, on)
    with right:
        picked = parts.pick(
            "Trial",
            list(trials),
            first_worth_a_look(trials),
            str,
            key=f"trace_trial_{athlete_id}_{on.isoformat()}",
        )
    if picked is None:
        return
    import_id, row_no = trials[picked]
    rows = [r for r in traces if (r.import_id, r.row_no) == (import_id, row_no)]
    event = next((r.event for r in readings if r.measured_on == on and r.event), "the event")
    try:
        sheet = build_trace(movement_reads.drawn(opened.build, athlete_id, import_id, row_no), rows, event)
    except LatewoodError as error:
        parts.refused(verbatim(str(error)))
        return
    film(opened, athlete_id, on, rows[0].trial)
    parts.words(TRACE_KEY, "lw-key")
    texts = [f"{panel.name}, {sheet.title}. {panel.words}" for panel in sheet.panels]
    parts.chart(draw_trace, sheet, opened.colours, texts)
    for fact in sheet.facts:
        parts.words(fact, "lw-small")
