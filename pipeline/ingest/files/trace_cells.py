"""Turns the trials of a trace file into values as text: peak speed and time per segment, or why there is none."""

from __future__ import annotations

from collections.abc import Mapping as MappingOf
from dataclasses import dataclass
from typing import Any

import pandas as pd

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.mapping import Mapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.files.shape import CELL_COLUMNS, Cells
from latewood.pipeline.ingest.files.trace_trials import Channel, EventAngle, TraceTrial, trials_of
from latewood.pipeline.stats.movement.trace_values import MEASURED, SegmentPeak, TraceReading, TraceSettings
from latewood.pipeline.stats.movement.traces import read_trace

OWN_CUTOFF = "default of this tool, by its own study"
CHANNEL_COLUMNS = (
    "athlete_text", "date_text", "trial_text", "row_no", "field", "measure", "state", "speed", "ms_from_event",
    "speed_error", "ms_error", "opposite", "noise", "n_lost", "rate_hz", "cutoff_hz", "cutoff_source", "reason",
    "remarks",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceCells:
    """The values of a trace file to be checked row by row, what each channel showed, and what a steward should know."""

    cells: Cells
    channels: pd.DataFrame  # CHANNEL_COLUMNS
    notes: tuple[str, ...]


def settings_of(mapping: Mapping) -> TraceSettings:
    """How the traces read by a mapping are filtered."""
    cutoff = mapping.trace.cutoff_hz
    return TraceSettings() if cutoff is None else TraceSettings(cutoff_hz=cutoff)


def read_trial(trial: TraceTrial, settings: TraceSettings) -> TraceReading:
    """The peaks of one trial."""
    channels = {channel.measure: channel.values for channel in trial.channels}
    return read_trace(trial.stamps, channels, trial.event, settings)


def trace_cells(name: str, table: TextTable, mapping: Mapping, catalogue: Catalogue) -> TraceCells:
    """Return the peaks of a trace file as cells.

    A channel with a peak gives its speed and, where the file marks an event, its time; one without a peak gives a
    cell without a value and its reason, to be held; one that is blank throughout a trial gives none. Raises
    FileUnreadableError.
    """
    settings = settings_of(mapping)
    cells: list[dict[str, object]] = []
    reported: list[dict[str, object]] = []
    combinations: list[MappingOf[str, str]] = []
    remarks: dict[str, int] = {}
    trials = trials_of(name, table, mapping, catalogue)
    for trial in trials:
        reading = read_trial(trial, settings)
        if trial.conditions not in combinations:
            combinations.append(trial.conditions)
        base = {**trial.texts, "combination": combinations.index(trial.conditions)}
        for channel, peak in zip(trial.channels, reading.peaks, strict=True):
            cells += _cells(base, channel, peak, _event_seconds(trial, reading), mapping.decimal)
            reported.append(_sentence(trial, channel, peak, reading, mapping))
        cells += [_angle_cell(base, angle, mapping.decimal) for angle in trial.angles if angle.text]
        for remark in reading.clock.remarks:
            remarks[remark] = remarks.get(remark, 0) + 1
    if not cells:
        raise FileUnreadableError(
            f"{name}: holds no channel that the mapping names; correct [[values]] in the mapping"
        )
    frame = pd.DataFrame(cells, columns=[*CELL_COLUMNS, "lost"])
    notes = tuple(f"traces: {n} of {len(trials)} trials: {text}" for text, n in remarks.items())
    return TraceCells(
        cells=Cells(frame=frame, combinations=tuple(combinations)),
        channels=pd.DataFrame(reported, columns=list(CHANNEL_COLUMNS)),
        notes=(f"traces: {len(trials)} trials, {_rate_words(reported)}", *notes),
    )


def _rate_words(told: list[dict[str, Any]]) -> str:
    rates = sorted({round(float(t["rate_hz"])) for t in told if t["rate_hz"] is not None})
    if not rates:
        return "no sampling rate found"
    return f"{' and '.join(map(str, rates))} samples a second, low-pass at {told[0]['cutoff_hz']:g} Hz"


def _event_seconds(trial: TraceTrial, reading: TraceReading) -> float | None:
    if trial.event is None or not reading.clock.usable:
        return None
    return trial.event * (0.001 if reading.clock.unit == "ms" else 1.0)


def _cells(
    base: MappingOf[str, object], channel: Channel, peak: SegmentPeak, event: float | None, decimal: str
) -> list[dict[str, object]]:
    if channel.is_blank:
        return []
    blank = {"reps_text": "", "angle_text": "", "rater_text": "", "row_no": channel.row_no, "lost": None}
    speed = {**base, **blank, "field": channel.field, "measure_text": channel.measure, "raw_unit": "deg/s"}
    if peak.speed is None or peak.seconds is None:
        return [{**speed, "raw_value": "", "lost": peak.reason}]
    result = [{**speed, "raw_value": _text(peak.speed, decimal)}]
    if event is not None:
        result.append({
            **speed, "field": f"{channel.field} time", "measure_text": channel.measure.replace("_speed", "_time"),
            "raw_unit": "ms", "raw_value": _text((peak.seconds - event) * 1000, decimal),
        })  # fmt: skip
    return result


def _angle_cell(base: MappingOf[str, object], angle: EventAngle, decimal: str) -> dict[str, object]:
    return {
        **base, "reps_text": "", "angle_text": "", "rater_text": "", "row_no": angle.row_no, "lost": None,
        "field": angle.field, "measure_text": angle.measure, "raw_unit": angle.unit,
        "raw_value": angle.text.replace(".", decimal),
    }  # fmt: skip


def _text(value: float, decimal: str) -> str:
    return f"{value:.1f}".replace(".", decimal)


def _sentence(
    trial: TraceTrial,
    channel: Channel,
    peak: SegmentPeak,
    reading: TraceReading,
    mapping: Mapping,
) -> dict[str, object]:
    event = _event_seconds(trial, reading)
    from_event = None
    if peak.state == MEASURED and event is not None and peak.seconds is not None:
        from_event = (peak.seconds - event) * 1000
    texts = {k: v for k, v in trial.texts.items() if k != "time_text"}
    return {
        **texts, "row_no": channel.row_no, "field": channel.field, "measure": channel.measure, "state": peak.state,
        "speed": peak.speed, "ms_from_event": from_event,
        "speed_error": peak.speed_error,
        "ms_error": None if peak.seconds_error is None else peak.seconds_error * 1000,
        "opposite": peak.opposite, "noise": peak.noise, "n_lost": peak.n_lost, "rate_hz": reading.clock.rate_hz,
        "cutoff_hz": settings_of(mapping).cutoff_hz, "cutoff_source": mapping.trace.cutoff_source or OWN_CUTOFF,
        "reason": peak.reason, "remarks": "; ".join((*reading.clock.remarks, *peak.remarks)),
    }  # fmt: skip
