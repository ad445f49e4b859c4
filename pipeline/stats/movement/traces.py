"""Peaks of rotational-speed traces and their times: what the channel shows, or why it shows nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement.trace_clock import Clocked, read_clocks
from latewood.pipeline.stats.movement.trace_peaks import Block, missing, peaks_of
from latewood.pipeline.stats.movement.trace_values import (
    ALL_REVERSED,
    AS_WORN,
    MEASURED,
    SOME_REVERSED,
    UNKNOWN,
    SegmentPeak,
    TraceClock,
    TraceReading,
    TraceSettings,
)

FEWEST_FOR_SIDE = 3  # channels, before "all of them" says something about the athlete
_TOGETHER = 250_000  # samples: what the filter works on stays in the processor's own memory


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenTrace:
    """One trial as `read_trace` takes it."""

    stamps: ArrayLike
    channels: Mapping[str, ArrayLike]
    event: float | None = None


def read_trace(
    stamps: ArrayLike,
    channels: Mapping[str, ArrayLike],
    event: float | None = None,
    settings: TraceSettings | None = None,
) -> TraceReading:
    """Return the peak of each channel of one swing, throw or pitch.

    `stamps` (n,) in s or ms as in the file, each channel (n,) in deg/s with NaN where there is nothing, `event` on
    the file's clock. Peaks are looked for around the event, in the whole trace without one. Signs stay as recorded.
    """
    return read_traces([GivenTrace(stamps=stamps, channels=channels, event=event)], settings)[0]


def read_traces(traces: Sequence[GivenTrace], settings: TraceSettings | None = None) -> list[TraceReading]:
    """As `read_trace`, of many trials: those with one rate and length are read together."""
    used = settings or TraceSettings()
    given = [np.asarray(trace.stamps, dtype=float) for trace in traces]
    stamped = [np.isfinite(stamps) for stamps in given]
    clocks = read_clocks([stamps[there] for stamps, there in zip(given, stamped, strict=True)])
    peaks: list[list[SegmentPeak]] = [[] for _ in traces]
    alike: dict[tuple[float, int], list[int]] = {}
    for place, (trace, (clock, times, _)) in enumerate(zip(traces, clocks, strict=True)):
        if clock.rate_hz is None:
            peaks[place] = [missing(segment, clock.reason) for segment in trace.channels]
        else:
            alike.setdefault((clock.rate_hz, len(times)), []).append(place)
    for (rate, size), places in alike.items():
        window_of = {at: _window(clocks[at][0], clocks[at][1], traces[at].event, used) for at in places}
        rows = [(place, segment) for place in places for segment in traces[place].channels]
        together = max(1, _TOGETHER // size)
        for part in (rows[at : at + together] for at in range(0, len(rows), together)):
            raw = np.stack([
                _recorded(traces[place], segment, stamped[place], clocks[place]) for place, segment in part
            ])
            windows = [window_of[place] for place, _ in part]
            block = Block(
                raw=raw,
                times=[clocks[place][1] for place, _ in part],
                windows=windows,
                rate_hz=rate,
                settings=used,
            )
            for (place, _), peak in zip(part, peaks_of([segment for _, segment in part], block), strict=True):
                peaks[place].append(peak)
    return [
        TraceReading(clock=clock, peaks=tuple(own), side=side_of(own))
        for (clock, _, _), own in zip(clocks, peaks, strict=True)
    ]


def _recorded(trace: GivenTrace, segment: str, stamped: np.ndarray, clocked: Clocked) -> Floats:
    """A channel on the even grid of its trial's clock."""
    clock, times, position = clocked
    values = np.asarray(trace.channels[segment], dtype=float)
    if len(times) == len(values) and not clock.n_duplicate and not clock.n_skipped:
        return values  # every sample has its place and every place its sample
    return on_grid(values[stamped], position, len(times))


def on_grid(values: ArrayLike, position: np.ndarray, size: int) -> Floats:
    """The samples on the even grid of their clock; holes are NaN.

    `values` and `position` (n,), -1 for a sample without a place; the result (size,).
    """
    result = np.full(size, np.nan)
    given = np.asarray(values, dtype=float)
    result[position[position >= 0]] = given[position >= 0]
    return result


def side_of(peaks: list[SegmentPeak]) -> str:
    """Which way the channels turn: all as worn, some or all of them reversed; 'not known' with too few."""
    turned = [peak.reversed for peak in peaks if peak.state == MEASURED]
    if not turned:
        return UNKNOWN
    if all(turned):
        return ALL_REVERSED if len(turned) >= FEWEST_FOR_SIDE else UNKNOWN
    return SOME_REVERSED if any(turned) else AS_WORN


def _window(clock: TraceClock, times: Floats, event: float | None, settings: TraceSettings) -> slice:
    if not clock.usable or event is None:
        return slice(0, len(times))
    at = event * (0.001 if clock.unit == "ms" else 1.0)
    first, last = np.searchsorted(times, [at - settings.before_event, at + settings.after_event])
    return slice(int(first), int(last))
