"""Reads of the published warehouse, and of landed traces, for the movement part of the athlete's page."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from latewood.dashboard.reads import rows
from latewood.dashboard.reads.read import Read
from latewood.dashboard.reads.trace_rows import TraceRow
from latewood.pipeline.errors import ForbiddenError
from latewood.pipeline.ingest.files.trace_view import read_drawn_trial, read_drawn_trials
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.stats.movement.results import (
    OrderChange,
    OrderRepeatability,
    PeakOrder,
    RaterAgreement,
)
from latewood.pipeline.stats.movement.trace_curves import DrawnTrial

NOT_HIS = "this trace is not among those of the athlete that your role covers"


traces = Read(row=TraceRow, kind="observation", by=("athlete_id",), query="athlete_traces")
orders = Read(
    row=PeakOrder,
    kind="observation",
    by=("athlete_id",),
    order="measured_on, action, line, is_whole desc, part",
)
repeatability = Read(row=OrderRepeatability, kind="program", order="action, line, is_whole desc, part")
agreements = Read(row=RaterAgreement, kind="program", order="measure, rater_a, rater_b")
_order_changes = Read(
    row=OrderChange,
    kind="observation",
    by=("athlete_id",),
    order="to_on, action, line, since, is_whole desc, part",
)


def changes(build: rows.Build, athlete_id: str) -> tuple[OrderChange, ...]:
    """How the order changed between two days, both of which the viewer may see."""
    observed = {one.measured_on for one in orders(build, athlete_id)}
    return tuple(one for one in _order_changes(build, athlete_id) if {one.from_on, one.to_on} <= observed)


def drawn(build: rows.Build, athlete_id: str, import_id: str, row_no: int) -> DrawnTrial:
    """One trial of an athlete with its curves, read from its own file in landing.

    Raises ForbiddenError where it is not one of theirs that the viewer may see, LatewoodError where it cannot be read.
    """
    if (import_id, row_no) not in {(one.import_id, one.row_no) for one in traces(build, athlete_id)}:
        raise ForbiddenError(NOT_HIS)
    return _drawn(str(data_dir()), build.build_id, import_id, row_no)


def drawn_file(build: rows.Build, athlete_id: str, import_id: str) -> dict[int, DrawnTrial]:
    """The trials of an athlete that one file holds, by their first line; those of others in it are left out.

    Raises ForbiddenError where none is one that the viewer may see, LatewoodError where the file cannot be read.
    """
    mine = {one.row_no for one in traces(build, athlete_id) if one.import_id == import_id}
    if not mine:
        raise ForbiddenError(NOT_HIS)
    trials = _drawn_file(str(data_dir()), build.build_id, import_id)
    return {row_no: trial for row_no, trial in trials.items() if row_no in mine}


@st.cache_resource(max_entries=16, show_spinner="Reading the traces")
def _drawn_file(folder: str, build_id: str, import_id: str) -> dict[int, DrawnTrial]:
    # Only `drawn_file` may call this: it gives nobody's trials but those asked for.
    return read_drawn_trials(Path(folder), import_id)


@st.cache_resource(max_entries=64, show_spinner="Reading the trace")
def _drawn(folder: str, build_id: str, import_id: str, row_no: int) -> DrawnTrial:
    # Only `drawn` may call this: it has asked whose trial it is. Curves are not written to by anybody.
    return read_drawn_trial(Path(folder), import_id, row_no)
