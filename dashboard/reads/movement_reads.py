"""Reads of the published warehouse, and of landed traces, for the movement part of the athlete's page."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from latewood.dashboard.reads import rows, warehouse
from latewood.dashboard.reads.trace_rows import TraceRow
from latewood.pipeline.errors import ForbiddenError
from latewood.pipeline.ingest.files.trace_view import read_drawn_trial
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.stats.movement.results import OrderChange, OrderRepeatability, PeakOrder
from latewood.pipeline.stats.movement.trace_curves import DrawnTrial

NOT_HIS = "this trace is not among those of the athlete that your role covers"


def traces(build: rows.Build, athlete_id: str) -> tuple[TraceRow, ...]:
    """Every channel of every trial of one athlete, the latest day first."""
    return warehouse.read_rows(build, "athlete_traces", TraceRow, athlete_id=athlete_id)


def orders(build: rows.Build, athlete_id: str) -> tuple[PeakOrder, ...]:
    """The order of peaks of one athlete, day by day."""
    return warehouse.read_rows(build, "athlete_peak_orders", PeakOrder, athlete_id=athlete_id)


def changes(build: rows.Build, athlete_id: str) -> tuple[OrderChange, ...]:
    """How the order changed between two days, both of which the viewer may see."""
    seen = {one.measured_on for one in orders(build, athlete_id)}
    found = warehouse.read_rows(build, "athlete_order_changes", OrderChange, athlete_id=athlete_id)
    return tuple(one for one in found if {one.from_on, one.to_on} <= seen)


def repeatability(build: rows.Build) -> tuple[OrderRepeatability, ...]:
    """How far the order of peaks repeats in this program."""
    return warehouse.read_rows(build, "order_repeatability", OrderRepeatability)


def drawn(build: rows.Build, athlete_id: str, import_id: str, row_no: int) -> DrawnTrial:
    """One trial of an athlete with its curves, read from its own file in landing.

    Raises ForbiddenError where it is not one of theirs that the viewer may see, LatewoodError where it cannot be read.
    """
    if (import_id, row_no) not in {(one.import_id, one.row_no) for one in traces(build, athlete_id)}:
        raise ForbiddenError(NOT_HIS)
    return _drawn(str(data_dir()), build.build_id, import_id, row_no)


@st.cache_resource(max_entries=64, show_spinner="Reading the trace")
def _drawn(folder: str, build_id: str, import_id: str, row_no: int) -> DrawnTrial:
    # Only `drawn` may call this: it has asked whose trial it is. Curves are not written to by anybody.
    return read_drawn_trial(Path(folder), import_id, row_no)
