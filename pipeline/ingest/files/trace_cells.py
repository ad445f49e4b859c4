"""Turns the trials of a trace file into values as text: peak speed and time per segment, or why there is none."""

from __future__ import annotations

from collections.abc import Mapping as MappingOf
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.mapping import Mapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.files.shape import CELL_COLUMNS, Cells
from latewood.pipeline.ingest.files.trace_trials import Channel, TraceTrial, trials_of
from latewood.pipeline.stats.movement.trace_values import MEASURED, SegmentPeak, TraceReading, TraceSettings
from latewood.pipeline.stats.movement.traces import GivenTrace, read_traces

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


def read_trials(trials: Sequence[TraceTrial], settings: TraceSettings) -> list[TraceReading]:
    """The peaks of trials."""
    return read_traces(
        [
            GivenTrace(stamps=t.stamps, channels={c.measure: c.values for c in t.channels}, event=t.event)
            for t in trials
        ],
        settings,
    )


def trace_cells(name: str, table: TextTable, mapping: Mapping, catalogue: Catalogue) -> TraceCells:
    """Return the peaks of a trace file as cells.

    A channel with a peak gives its speed and, where the file marks an event, its time; one without a peak gives a
    cell without a value and its reason, to be held; one that is blank throughout a trial gives none. Raises
    FileUnreadableError.
    """
    settings = settings_of(mapping)
    cells: list[tuple[object, ...]] = []
    reported: list[tuple[object, ...]] = []
    combinations: list[MappingOf[str, str]] = []
    remarks: dict[str, int] = {}
    trials = trials_of(name, table, mapping, catalogue)
    readings = read_trials(trials, settings)
    how = (settings.cutoff_hz, mapping.trace.cutoff_source or OWN_CUTOFF)
    for trial, reading in zip(trials, readings, strict=True):
        if trial.conditions not in combinations:
            combinations.append(trial.conditions)
        combination, event = combinations.index(trial.conditions), _event_seconds(trial, reading)
        for channel, peak in zip(trial.channels, reading.peaks, strict=True):
            for field, measure, value, unit, lost in _values(channel, peak, event, mapping.decimal):
                cells.append(_cell(trial, combination, (channel.row_no, field, measure, value, unit, lost)))
            reported.append(_sentence(trial, channel, peak, reading, how))
        for angle in trial.angles:
            if angle.text:
                text = angle.text.replace(".", mapping.decimal)
                own = (angle.row_no, angle.field, angle.measure, text, angle.unit, None)
                cells.append(_cell(trial, combination, own))
        for remark in reading.clock.remarks:
            remarks[remark] = remarks.get(remark, 0) + 1
    if not cells:
        raise FileUnreadableError(
            f"{name}: holds no channel that the mapping names; correct [[values]] in the mapping"
        )
    notes = tuple(f"traces: {n} of {len(trials)} trials: {text}" for text, n in remarks.items())
    return TraceCells(
        cells=Cells(
            frame=pd.DataFrame(cells, columns=[*CELL_COLUMNS, "lost"]), combinations=tuple(combinations)
        ),
        channels=pd.DataFrame(reported, columns=list(CHANNEL_COLUMNS)),
        notes=(f"traces: {len(trials)} trials, {_rate_words(readings, settings)}", *notes),
    )


def _rate_words(readings: Sequence[TraceReading], settings: TraceSettings) -> str:
    rates = sorted({round(r.clock.rate_hz) for r in readings if r.clock.rate_hz is not None and r.peaks})
    if not rates:
        return "no sampling rate found"
    return f"{' and '.join(map(str, rates))} samples a second, low-pass at {settings.cutoff_hz:g} Hz"


def _event_seconds(trial: TraceTrial, reading: TraceReading) -> float | None:
    if trial.event is None or not reading.clock.usable:
        return None
    return trial.event * (0.001 if reading.clock.unit == "ms" else 1.0)


def _values(
    channel: Channel, peak: SegmentPeak, event: float | None, decimal: str
) -> list[tuple[object, ...]]:
    """What a channel gives: field, measure, value, unit, and why it has no peak."""
    if channel.is_blank:
        return []
    if peak.speed is None or peak.seconds is None:
        return [(channel.field, channel.measure, "", "deg/s", peak.reason)]
    speed = (channel.field, channel.measure, _text(peak.speed, decimal), "deg/s", None)
    if event is None:
        return [speed]
    at = _text((peak.seconds - event) * 1000, decimal)
    return [speed, (f"{channel.field} time", channel.measure.replace("_speed", "_time"), at, "ms", None)]


def _cell(trial: TraceTrial, combination: int, own: tuple[object, ...]) -> tuple[object, ...]:
    """A cell in the order of CELL_COLUMNS, then why it is lost."""
    row_no, field, measure, value, unit, lost = own
    texts = trial.texts
    return (
        row_no, field, texts["athlete_text"], texts["date_text"], texts["time_text"], measure, value, unit,
        texts["trial_text"], "", "", "", combination, lost,
    )  # fmt: skip


def _text(value: float, decimal: str) -> str:
    return f"{value:.1f}".replace(".", decimal)


def _sentence(
    trial: TraceTrial,
    channel: Channel,
    peak: SegmentPeak,
    reading: TraceReading,
    how: tuple[float, str],
) -> tuple[object, ...]:
    """What a channel showed, in the order of CHANNEL_COLUMNS; `how` is the cut-off and where it is from."""
    event, from_event = _event_seconds(trial, reading), None
    if peak.state == MEASURED and event is not None and peak.seconds is not None:
        from_event = (peak.seconds - event) * 1000
    texts, late = trial.texts, peak.seconds_error
    return (
        texts["athlete_text"], texts["date_text"], texts["trial_text"], channel.row_no, channel.field, channel.measure,
        peak.state, peak.speed, from_event, peak.speed_error, None if late is None else late * 1000, peak.opposite,
        peak.noise, peak.n_lost, reading.clock.rate_hz, *how, peak.reason,
        "; ".join((*reading.clock.remarks, *peak.remarks)),
    )  # fmt: skip
