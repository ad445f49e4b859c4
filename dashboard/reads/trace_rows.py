"""Rows on movement traces as they stand in the warehouse."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceRow:
    """What one channel of one trial showed, and what became of it."""

    import_id: str
    row_no: int  # line on which the trial begins
    file_name: str
    measured_on: date
    trial: int
    trial_text: str
    measure: str
    state: str
    speed: float | None
    ms_from_event: float | None
    speed_error: float | None
    ms_error: float | None
    opposite: float | None
    n_lost: int
    rate_hz: float | None
    cutoff_hz: float
    cutoff_source: str
    reason: str
    remarks: str
    held_rule: str | None  # while it waits for a decision
    fix_known: bool | None
    taken: float | None  # as it counts, after any decision
    action: str = ""  # of the trial; '' while nothing of it was taken
    line: str = ""
