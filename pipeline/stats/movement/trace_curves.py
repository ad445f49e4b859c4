"""The curves of one trial as drawn: samples as recorded, the filtered curve, and what was not recorded truly."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement import trace_faults as faults
from latewood.pipeline.stats.movement.trace_clock import read_clock
from latewood.pipeline.stats.movement.trace_peaks import curve_of
from latewood.pipeline.stats.movement.trace_values import SegmentPeak, TraceClock, TraceSettings
from latewood.pipeline.stats.movement.traces import on_grid, read_trace

Span = tuple[float, float]  # first and last moment, s on the file's clock


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnChannel:
    """One channel: its samples and curve on the times of the trial, its peak, and the stretches that are not true."""

    raw: Floats  # deg/s, NaN where nothing was recorded
    filtered: Floats | None  # None where too little is left to be filtered
    lost: tuple[Span, ...]  # blank, held at one value, or zero amid movement
    flat_top: Span | None  # the sensor reached the end of its range
    peak: SegmentPeak


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnTrial:
    """One swing, throw or pitch as it was recorded. Without a usable clock there are no times and no channels."""

    clock: TraceClock
    times: Floats  # s, evenly spaced
    event: float | None  # s
    channels: tuple[DrawnChannel, ...]
    settings: TraceSettings
    marks: Mapping[str, float] = field(default_factory=dict)  # every marked event by its word, s


def drawn_trial(
    stamps: ArrayLike,
    channels: Mapping[str, ArrayLike],
    event: float | None,
    settings: TraceSettings,
    marks: Mapping[str, float] | None = None,
) -> DrawnTrial:
    """Return what `read_trace` saw, with the curves it saw it in. Arguments are those of `read_trace`.

    `stamps` and each channel (n,); `marks` are further events by their words, on the file's clock like `event`.
    """
    given = np.asarray(stamps, dtype=float)
    stamped = np.isfinite(given)
    clock, times, position = read_clock(given[stamped])
    if not clock.usable:
        return DrawnTrial(clock=clock, times=np.empty(0), event=None, channels=(), settings=settings)
    reading = read_trace(stamps, channels, event, settings)
    drawn = []
    for peak in reading.peaks:
        raw = on_grid(np.asarray(channels[peak.segment], dtype=float)[stamped], position, len(times))
        drawn.append(_channel(raw, times, peak, clock.rate_hz or 0.0, settings))
    second = 0.001 if clock.unit == "ms" else 1.0
    return DrawnTrial(
        clock=clock, times=times, event=None if event is None else event * second, channels=tuple(drawn),
        settings=settings, marks={word: at * second for word, at in (marks or {}).items()},
    )  # fmt: skip


def _channel(
    raw: Floats, times: Floats, peak: SegmentPeak, rate: float, settings: TraceSettings
) -> DrawnChannel:
    curve = curve_of(raw, rate, settings)
    there = ~np.isnan(raw)
    lost = faults.lost_samples(raw, rate) if there.any() else ~there
    return DrawnChannel(
        raw=raw,
        filtered=None if curve is None else curve.filtered,
        lost=tuple((float(times[a]), float(times[b - 1])) for a, b in faults.gaps(lost)),
        flat_top=_flat_top(raw, times, rate) if there.any() and not faults.is_flat(raw) else None,
        peak=peak,
    )


def _flat_top(raw: Floats, times: Floats, rate: float) -> Span | None:
    """From the first to the last sample at the value where the channel was cut off."""
    for top in (True, False):
        if faults.is_clipped(raw, rate, top=top):
            at = np.flatnonzero(raw == (np.nanmax(raw) if top else np.nanmin(raw)))
            return float(times[at[0]]), float(times[at[-1]])
    return None
