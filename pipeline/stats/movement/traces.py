"""Peaks of rotational-speed traces and their times: what the channel shows, or why it shows nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from latewood.pipeline.stats.engine.later import signal
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement import trace_faults as faults
from latewood.pipeline.stats.movement.trace_clock import read_clock
from latewood.pipeline.stats.movement.trace_filter import low_pass, noise_left, top_of
from latewood.pipeline.stats.movement.trace_values import (
    ALL_REVERSED,
    AS_WORN,
    MEASURED,
    MISSING,
    SOME_REVERSED,
    UNKNOWN,
    SegmentPeak,
    TraceClock,
    TraceReading,
    TraceSettings,
)

STANDS_OUT = 6.0  # a peak is this many times the SD that noise leaves in the filtered curve
FEWEST_FOR_SIDE = 3  # channels, before "all of them" says something about the athlete
RIVAL = 0.95  # of the peak, at another time
FULL_SHARE = 0.5  # of the samples must be there


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One channel on the even grid: as recorded (lost samples NaN), filtered, and what was lost. deg/s."""

    raw: Floats
    filtered: Floats
    lost: faults.Mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The even grid (n,) that all channels of a trace share, s; the samples a peak is looked for in; how it is read."""

    times: Floats
    rate_hz: float
    window: slice
    settings: TraceSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Top:
    """The sample with the largest speed of a curve, the largest the other way, and the SD of the noise, deg/s."""

    at: int
    opposite: float
    noise: float


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
    used = settings or TraceSettings()
    given = np.asarray(stamps, dtype=float)
    stamped = np.isfinite(given)
    clock, times, position = read_clock(given[stamped])
    span = Span(
        times=times, rate_hz=clock.rate_hz or 0.0, window=_window(clock, times, event, used), settings=used
    )
    peaks = []
    for segment, values in channels.items():
        if not clock.usable:
            peaks.append(_missing(segment, clock.reason))
            continue
        raw = on_grid(np.asarray(values, dtype=float)[stamped], position, len(times))
        peaks.append(_read_channel(segment, raw, span))
    return TraceReading(clock=clock, peaks=tuple(peaks), side=side_of(peaks))


def curve_of(raw: Floats, rate_hz: float, settings: TraceSettings) -> Curve | None:
    """The channel filtered, its lost samples bridged by straight lines for the filter only; None if too few are left.

    Nothing is read from the bridges: `read_trace` refuses a peak at or beside one.
    `raw` (n,) in deg/s on the even grid, missing samples NaN.
    """
    if np.isnan(raw).all():
        return None
    lost = faults.lost_samples(raw, rate_hz)
    there = np.flatnonzero(~lost)
    if len(there) < max(FULL_SHARE * len(raw), 12):
        return None
    bridged = np.interp(np.arange(len(raw)), there, raw[there])
    filtered = low_pass(bridged, rate_hz, settings.cutoff_hz, settings.order)
    return Curve(raw=raw, filtered=filtered, lost=lost)


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


def _missing(segment: str, reason: str, n_lost: int = 0) -> SegmentPeak:
    return SegmentPeak(
        segment=segment, state=MISSING, speed=None, seconds=None, speed_error=None, seconds_error=None,
        opposite=None, noise=None, n_lost=n_lost, reason=reason, remarks=(),
    )  # fmt: skip


def _read_channel(segment: str, raw: Floats, span: Span) -> SegmentPeak:
    rate, window, settings = span.rate_hz, span.window, span.settings
    if np.isnan(raw).all():
        return _missing(segment, "nothing was recorded", len(raw))
    if faults.is_flat(raw):
        return _missing(segment, f"the channel is flat, at {np.nanmedian(raw):.0f} deg/s", len(raw))
    curve = curve_of(raw, rate, settings)
    lost = faults.lost_samples(raw, rate) if curve is None else curve.lost
    n_lost = int(lost.sum())
    if curve is None:
        return _missing(segment, f"{n_lost} of {len(raw)} samples are lost", n_lost)
    part = curve.filtered[window]
    if len(part) < 3:
        return _missing(segment, "the trace does not cover the time before the event", n_lost)
    high, low = int(np.argmax(part)) + window.start, int(np.argmin(part)) + window.start
    up, down = curve.filtered[high], curve.filtered[low]
    if max(abs(up), abs(down)) < settings.side_ratio * min(abs(up), abs(down)) and up > 0 > down:
        words = f"it turns both ways about equally ({up:.0f} and {down:.0f} deg/s)"
        return _missing(segment, words, n_lost)
    at = high if up >= -down else low
    top = Top(at=at, opposite=float(down if at == high else up), noise=_noise(curve, rate, settings))
    reason = _doubt(curve, top, span)
    if reason:
        return _missing(segment, reason, n_lost)
    return _peak(segment, curve, top, span)


def _noise(curve: Curve, rate: float, settings: TraceSettings) -> float:
    """SD of the raw samples about the filtered curve, by the median, so that a peak the filter blunts counts little."""
    rest = (curve.raw - curve.filtered)[~curve.lost]
    share = noise_left(settings.cutoff_hz, settings.order, rate)[2]
    return float(1.4826 * np.median(np.abs(rest - np.median(rest))) / share)


def _doubt(curve: Curve, top: Top, span: Span) -> str:
    """Why the peak found cannot be trusted; '' where it can."""
    at, rate, window, settings = top.at, span.rate_hz, span.window, span.settings
    height = abs(curve.filtered[at])
    if height < STANDS_OUT * top.noise * noise_left(settings.cutoff_hz, settings.order, rate)[0]:
        return "no peak stands out of the noise"
    if at - max(window.start, 0) < 2 or min(window.stop, len(curve.raw)) - at < 3:
        return "the largest value stands at the edge of the trace: the peak may lie outside"
    if faults.is_clipped(curve.raw, rate, top=bool(curve.filtered[at] > 0)):
        return "the top is cut off at one value: the sensor reached the end of its range"
    for start, end in faults.gaps(curve.lost):
        if start < window.stop and end > window.start:
            reason = _gap_doubt(curve, start, end, at, span)
            if reason:
                return reason
    return ""


def _gap_doubt(curve: Curve, start: int, end: int, at: int, span: Span) -> str:
    rate, guard = span.rate_hz, round(span.rate_hz / span.settings.cutoff_hz)
    length = f"{(end - start) / rate * 1000:.0f} ms"
    if start - guard <= at < end + guard:
        return f"a drop-out of {length} lies at the peak"
    if (end - start) / rate > span.settings.longest_gap:
        return f"a drop-out of {length} could hide the peak"
    edges = [abs(curve.raw[i]) for i in (start - 1, end) if 0 <= i < len(curve.raw)]
    if max(edges, default=0.0) > 0.5 * abs(curve.filtered[at]):
        return f"a drop-out of {length} on the way to the peak could hide it"
    return ""


def _peak(segment: str, curve: Curve, top: Top, span: Span) -> SegmentPeak:
    at, noise, times, rate, settings = top.at, top.noise, span.times, span.rate_hz, span.settings
    where, height, bend = top_of(curve.filtered, at)
    left, slope_left, _ = noise_left(settings.cutoff_hz, settings.order, rate)
    seconds_error = noise * slope_left / (abs(bend) * rate**2) if bend else None
    return SegmentPeak(
        segment=segment, state=MEASURED, speed=height,
        seconds=float(np.interp(where, np.arange(len(times)), times)),
        speed_error=noise * left, seconds_error=seconds_error, opposite=top.opposite, noise=noise,
        n_lost=int(curve.lost.sum()), reason="", remarks=_remarks(curve, top.at, times),
    )  # fmt: skip


def _remarks(curve: Curve, at: int, times: Floats) -> tuple[str, ...]:
    result = []
    sized = curve.filtered * np.sign(curve.filtered[at])
    tops, _ = signal.find_peaks(sized, height=RIVAL * sized[at])
    others = [int(top) for top in tops if abs(int(top) - at) > 1]
    if others:
        apart = abs(times[others[0]] - times[at]) * 1000
        result.append(f"a second top of nearly the same height stands {apart:.0f} ms away")
    n_lost = int(curve.lost.sum())
    if n_lost:
        result.append(f"{n_lost} samples are lost away from the peak")
    return tuple(result)
