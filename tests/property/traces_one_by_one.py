"""How a trace is read, one trial and one channel at a time and with nothing read together: what batches must equal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import signal

from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement.trace_filter import noise_left, one_way_cutoff
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

Mask = NDArray[np.bool_]
Positions = NDArray[np.int64]
LONGEST_HOLD = 0.010  # s; a rounded top may rest on one value for less
FEWEST_HELD = 3  # samples
QUIET = 0.1  # of the channel's largest value; below it a resting segment repeats itself
FLAT = 5.0  # deg/s between a channel's largest and smallest value


def lost_samples(values: Floats, rate_hz: float) -> Mask:
    """Whether each sample is missing, repeats one value in a row, or is zero between values well away from it.

    `values` (n,) in deg/s on an even grid, missing ones NaN; the result (n,).
    """
    lost = np.isnan(values)
    scale = float(np.nanmax(np.abs(values))) if not lost.all() else 0.0
    starts, ends = runs_of_equal(values)
    level, n = values[starts], ends - starts
    held = (n >= FEWEST_HELD) & ((n - 1) / rate_hz > LONGEST_HOLD) & (np.abs(level) > QUIET * scale)
    zero = (level == 0) & _between_same_side(values, starts, ends, QUIET * scale)
    lost |= np.repeat(zero | held, n)
    lost[starts[held]] = False  # the first of the values held was measured
    return lost


def runs_of_equal(values: Floats) -> tuple[Positions, Positions]:
    """First and past-the-last index of every run of one value; each missing sample is a run of its own.

    `values` (n,); both results (runs,).
    """
    starts = np.concatenate([[0], np.flatnonzero(np.diff(values) != 0) + 1])
    return starts, np.append(starts[1:], len(values))


def _between_same_side(values: Floats, starts: Positions, ends: Positions, least: float) -> Mask:
    """Of runs of zeros (runs,), which are drop-outs: the curve does not pass through zero there."""
    inside = (starts > 0) & (ends < len(values))
    before, after = values[starts - 1], values[np.minimum(ends, len(values) - 1)]
    result: Mask = (
        inside & (np.minimum(np.abs(before), np.abs(after)) > least) & ((before > 0) == (after > 0))
    )
    return result


def is_clipped(values: Floats, rate_hz: float, *, top: bool) -> bool:
    """Whether the largest (or smallest) value stands there for longer than a rounded top would.

    `values` (n,), at least one of them not NaN.
    """
    extreme = np.nanmax(values) if top else np.nanmin(values)
    at = np.flatnonzero(values == extreme)
    span = int(at[-1] - at[0])
    return len(at) >= FEWEST_HELD and span / rate_hz > LONGEST_HOLD and len(at) > 0.6 * (span + 1)


def is_flat(values: Floats) -> bool:
    """Whether a channel hardly moves at all.

    `values` (n,) in deg/s, at least one of them not NaN.
    """
    return bool(np.nanmax(values) - np.nanmin(values) < FLAT)


def gaps(lost: Mask) -> list[tuple[int, int]]:
    """First and past-the-last index of every stretch of lost samples. `lost` (n,); both results (stretches,)."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], lost, [False]]).astype(int)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


LOWEST_HZ, HIGHEST_HZ = 100.0, 1000.0
FEWEST_SAMPLES = 30
ROOM = 1.05  # a stated 100 Hz may come as 98
TOLD_JITTER, WORST_JITTER = 0.1, 0.2  # of the sampling interval
TOLD_DRIFT = 0.2  # per cent
FOLLOW = 0.15  # of the last sample's lateness
SKIP_FROM = (
    0.7  # of an interval late: later than jitter goes, so that a late sample is not taken for a skipped one
)
MOST_DUPLICATES = 0.1  # of the samples
_SECONDS = {"s": 1.0, "ms": 0.001}


def read_clock(stamps: ArrayLike) -> tuple[TraceClock, Floats, NDArray[np.int64]]:
    """Return the clock of a trace, its smooth times in seconds, and where each sample stands among them.

    `stamps` are the times as the file writes them, in s or ms: at 100 to 1000 samples a second the two cannot be
    confused. Samples are put on an even grid by their steps, so that skipped ones are holes in it; a sample that
    repeats a time has position -1. The times are a second-degree fit of stamps on grid positions: it averages
    jitter and follows a drift. An unusable clock has no times.
    `stamps` (n,), positions (n,); the times have one entry for each place of the grid, holes counted.
    """
    given = np.asarray(stamps, dtype=float)
    steps = np.diff(given)
    counts = {"n_duplicate": int((steps == 0).sum()), "n_backward": int((steps < 0).sum())}
    problem = _problem(given, steps, counts)
    unit = _unit(steps)
    if problem or not unit:
        words = problem or _no_rate(steps)
        return _unusable(words, unit, given, counts), np.empty(0), np.full(len(given), -1)
    seconds = given * _SECONDS[unit]
    kept = np.concatenate([[True], steps != 0])
    grid = _grid(seconds[kept])
    moves = np.diff(grid)
    position = np.full(len(given), -1)
    position[kept] = grid
    fit = np.polynomial.Polynomial.fit(grid, seconds[kept], 2 if len(grid) > FEWEST_SAMPLES else 1)
    jitter = float(np.std(seconds[kept] - fit(grid), ddof=1))
    interval = float((seconds[kept][-1] - seconds[kept][0]) / grid[-1])
    if jitter > WORST_JITTER * interval:
        words = (
            f"the time stamps jump by {jitter * 1000:.1f} ms about an even clock; export with steady sampling"
        )
        return _unusable(words, unit, given, counts), np.empty(0), np.full(len(given), -1)
    slope = fit.deriv()
    drift = 100 * float((slope(grid[-1]) - slope(0)) / interval)
    clock = TraceClock(
        usable=True, unit=unit, rate_hz=1 / interval, n_samples=len(given), seconds=float(grid[-1] * interval),
        jitter_ms=jitter * 1000, drift_percent=drift, n_skipped=int((moves - 1).sum()), reason="",
        remarks=_clock_remarks(jitter / interval, jitter, drift, counts["n_duplicate"], int((moves - 1).sum())),
        **counts,
    )  # fmt: skip
    return clock, fit(np.arange(grid[-1] + 1)), position


def _grid(seconds: Floats) -> NDArray[np.int64]:
    """Where each sample stands on an even grid, by a clock that follows the stamps too slowly for jitter to move it."""
    steps = np.diff(seconds)
    interval = float(steps[np.abs(steps / np.median(steps) - 1) < 0.5].mean())
    first, *later = seconds.tolist()
    at, now = [0], first
    for stamp in later:
        step = max(1, int((stamp - now) / interval + 1 - SKIP_FROM))
        now += step * interval
        late = stamp - now
        now += FOLLOW * late
        interval += FOLLOW**2 / 4 * late / step
        at.append(at[-1] + step)
    return np.array(at)


def _unit(steps: Floats) -> str:
    forward = steps[steps > 0]
    if not len(forward):
        return ""
    middle = float(np.median(forward))
    for unit, factor in _SECONDS.items():
        if LOWEST_HZ / ROOM <= 1 / (middle * factor) <= HIGHEST_HZ * ROOM:
            return unit
    return ""


def _problem(given: Floats, steps: Floats, counts: dict[str, int]) -> str:
    if len(given) < FEWEST_SAMPLES:
        return f"the trace has {len(given)} samples; {FEWEST_SAMPLES} are needed"
    if counts["n_backward"]:
        return f"the time runs backwards {counts['n_backward']} times; give every trial its own number"
    if counts["n_duplicate"] > MOST_DUPLICATES * len(steps):
        return (
            f"{counts['n_duplicate']} of {len(given)} samples repeat a time; write the time with more digits"
        )
    return ""


def _no_rate(steps: Floats) -> str:
    middle = float(np.median(steps[steps > 0]))
    return (
        f"a sample comes every {middle:g} of the file's time unit; {LOWEST_HZ:.0f} to {HIGHEST_HZ:.0f} a second, "
        "with times in s or ms, can be read"
    )


def _unusable(reason: str, unit: str, given: Floats, counts: dict[str, int]) -> TraceClock:
    return TraceClock(
        usable=False, unit=unit, rate_hz=None, n_samples=len(given), seconds=None, jitter_ms=None,
        drift_percent=None, n_skipped=0, reason=reason, remarks=(), **counts,
    )  # fmt: skip


def _clock_remarks(
    relative: float, jitter: float, drift: float, doubled: int, skipped: int
) -> tuple[str, ...]:
    result = []
    if relative > TOLD_JITTER:
        result.append(f"time stamps scatter by {jitter * 1000:.1f} ms about an even clock")
    if abs(drift) > TOLD_DRIFT:
        result.append(f"the clock drifts: its interval changes by {drift:+.1f} % over the trace")
    if doubled:
        result.append(f"{doubled} samples repeat a time; the first of each is used")
    if skipped:
        result.append(f"{skipped} samples are skipped")
    return tuple(result)


def low_pass(values: Floats, rate_hz: float, cutoff_hz: float, order: int) -> Floats:
    """Forward and back, by scipy itself."""
    sections = signal.butter(order, one_way_cutoff(cutoff_hz, order, rate_hz), fs=rate_hz, output="sos")
    result: Floats = signal.sosfiltfilt(sections, values)
    return result


def top_of(curve: Floats, at: int) -> tuple[float, float, float]:
    """Position, height and second difference of the parabola through a sample and its neighbours."""
    before, here, after = curve[at - 1], curve[at], curve[at + 1]
    bend = before - 2 * here + after
    if bend == 0:
        return float(at), float(here), 0.0
    move = 0.5 * (before - after) / bend
    return at + float(move), float(here - 0.25 * (before - after) * move), float(bend)


STANDS_OUT = 6.0  # a peak is this many times the SD that noise leaves in the filtered curve
FEWEST_FOR_SIDE = 3  # channels, before "all of them" says something about the athlete
RIVAL = 0.95  # of the peak, at another time
FULL_SHARE = 0.5  # of the samples must be there


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One channel on the even grid: as recorded (lost samples NaN), filtered, and what was lost. deg/s."""

    raw: Floats
    filtered: Floats
    lost: Mask


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
    lost = lost_samples(raw, rate_hz)
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
    if is_flat(raw):
        return _missing(segment, f"the channel is flat, at {np.nanmedian(raw):.0f} deg/s", len(raw))
    curve = curve_of(raw, rate, settings)
    lost = lost_samples(raw, rate) if curve is None else curve.lost
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
    if is_clipped(curve.raw, rate, top=bool(curve.filtered[at] > 0)):
        return "the top is cut off at one value: the sensor reached the end of its range"
    for start, end in gaps(curve.lost):
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
