"""The peaks of channels of one rate and length, read together; the few in doubt are looked at one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from latewood.pipeline.stats.engine.later import signal
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement import trace_faults as faults
from latewood.pipeline.stats.movement.trace_filter import low_pass, noise_left, top_of
from latewood.pipeline.stats.movement.trace_values import MEASURED, MISSING, SegmentPeak, TraceSettings

STANDS_OUT = 6.0  # a peak is this many times the SD that noise leaves in the filtered curve
RIVAL = 0.95  # of the peak, at another time
FULL_SHARE = 0.5  # of the samples must be there
FEWEST_THERE = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One channel on the even grid: as recorded (lost samples NaN), filtered, and what was lost. deg/s."""

    raw: Floats
    filtered: Floats
    lost: faults.Mask


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Channels (channels, n) on even grids of one rate, each with its times (n,), s, and the samples it is read in."""

    raw: Floats
    times: Sequence[Floats]
    windows: Sequence[slice]
    rate_hz: float
    settings: TraceSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Where and how the peak of one channel is looked for."""

    rate_hz: float
    window: slice
    settings: TraceSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Top:
    """The sample with the largest speed of a curve, the largest the other way, and the SD of the noise, deg/s."""

    at: int
    opposite: float
    noise: float


def curve_of(raw: Floats, rate_hz: float, settings: TraceSettings) -> Curve | None:
    """The channel filtered, its lost samples bridged by straight lines for the filter only; None if too few are left.

    Nothing is read from the bridges: `read_trace` refuses a peak at or beside one.
    `raw` (n,) in deg/s on the even grid, missing samples NaN.
    """
    if np.isnan(raw).all():
        return None
    lost = faults.lost_samples(raw, rate_hz)
    if not _is_enough(lost[None])[0]:
        return None
    return Curve(raw=raw, filtered=_filtered(raw[None], lost[None], rate_hz, settings)[0], lost=lost)


def _is_enough(lost: faults.Mask) -> faults.Mask:
    result: faults.Mask = (~lost).sum(axis=1) >= max(FULL_SHARE * lost.shape[1], FEWEST_THERE)
    return result


def _filtered(raw: Floats, lost: faults.Mask, rate_hz: float, settings: TraceSettings) -> Floats:
    bridged = raw.copy()
    for row in np.flatnonzero(lost.any(axis=1)):
        there = np.flatnonzero(~lost[row])
        bridged[row] = np.interp(np.arange(raw.shape[1]), there, raw[row][there])
    return low_pass(bridged, rate_hz, settings.cutoff_hz, settings.order)


def missing(segment: str, reason: str, n_lost: int = 0) -> SegmentPeak:
    """A channel without a peak, and why."""
    return SegmentPeak(
        segment=segment, state=MISSING, speed=None, seconds=None, speed_error=None, seconds_error=None,
        opposite=None, noise=None, n_lost=n_lost, reason=reason, remarks=(),
    )  # fmt: skip


def peaks_of(segments: Sequence[str], block: Block) -> list[SegmentPeak]:
    """The peak of each channel of a block, or why it has none. `segments` (channels,)."""
    raw, n = block.raw, block.raw.shape[1]
    result: dict[int, SegmentPeak] = {}
    low, high = np.fmin.reduce(raw, axis=1), np.fmax.reduce(raw, axis=1)
    blank, flat = np.isnan(high), high - low < faults.FLAT
    for row in np.flatnonzero(blank).tolist():
        result[row] = missing(segments[row], "nothing was recorded", n)
    for row in np.flatnonzero(flat).tolist():
        words = f"the channel is flat, at {np.nanmedian(raw[row]):.0f} deg/s"
        result[row] = missing(segments[row], words, n)
    rows = np.flatnonzero(~(blank | flat))
    lost = faults.lost_samples(raw[rows], block.rate_hz)
    enough = _is_enough(lost)
    for row, n_lost in zip(rows[~enough].tolist(), lost[~enough].sum(axis=1).tolist(), strict=True):
        result[row] = missing(segments[row], f"{n_lost} of {n} samples are lost", n_lost)
    rows, lost = rows[enough], lost[enough]
    if len(rows):
        curves = _Curves(
            raw=raw[rows], lost=lost, low=low[rows], high=high[rows],
            filtered=_filtered(raw[rows], lost, block.rate_hz, block.settings),
        )  # fmt: skip
        kept = rows.tolist()
        own = Block(
            raw=curves.raw, times=[block.times[row] for row in kept], windows=[block.windows[row] for row in kept],
            rate_hz=block.rate_hz, settings=block.settings,
        )  # fmt: skip
        names = [segments[row] for row in kept]
        result |= dict(zip(kept, _read_curves(names, curves, own), strict=True))
    return [result[row] for row in range(len(raw))]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Curves:
    """Curves (curves, n) as in `Curve`, and the least and the largest value of each as recorded."""

    raw: Floats
    filtered: Floats
    lost: faults.Mask
    low: Floats
    high: Floats

    def one(self, row: int) -> Curve:
        return Curve(raw=self.raw[row], filtered=self.filtered[row], lost=self.lost[row])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """Of each curve (curves,): its largest sample, the largest either way, the noise, and whether to look closer."""

    at: np.ndarray
    up: Floats
    down: Floats
    opposite: Floats
    noise: Floats
    both_ways: faults.Mask
    in_doubt: faults.Mask
    rivals: faults.Mask


def _found(curves: _Curves, block: Block) -> _Found:
    rate, settings, n = block.rate_hz, block.settings, curves.raw.shape[1]
    rows, place = np.arange(len(curves.raw)), np.arange(n)
    start = np.array([window.start for window in block.windows])
    stop = np.minimum([window.stop for window in block.windows], n)
    inside = (place >= start[:, None]) & (place < stop[:, None])
    highest = np.where(inside, curves.filtered, -np.inf).argmax(axis=1)
    lowest = np.where(inside, curves.filtered, np.inf).argmin(axis=1)
    up, down = curves.filtered[rows, highest], curves.filtered[rows, lowest]
    larger, smaller = np.maximum(np.abs(up), np.abs(down)), np.minimum(np.abs(up), np.abs(down))
    upward = up >= -down
    at = np.where(upward, highest, lowest)
    height = curves.filtered[rows, at]
    left, _, rest_left = noise_left(settings.cutoff_hz, settings.order, rate)
    noise = _noise(curves) / rest_left
    in_doubt = (
        (np.abs(height) < STANDS_OUT * noise * left)
        | (at - start < 2) | (stop - at < 3)
        | _may_be_clipped(curves, height > 0)
        | (curves.lost & inside).any(axis=1)
    )  # fmt: skip
    return _Found(
        at=at, up=up, down=down, opposite=np.where(upward, down, up), noise=noise, in_doubt=in_doubt,
        both_ways=(larger < settings.side_ratio * smaller) & (up > 0) & (down < 0),
        rivals=_may_have_rivals(curves.filtered * np.sign(height)[:, None], at),
    )  # fmt: skip


def _read_curves(segments: Sequence[str], curves: _Curves, block: Block) -> list[SegmentPeak]:
    rate, settings, n = block.rate_hz, block.settings, curves.raw.shape[1]
    found, rows = _found(curves, block), np.arange(len(segments))
    left, slope_left, _ = noise_left(settings.cutoff_hz, settings.order, rate)
    n_lost = curves.lost.sum(axis=1).tolist()
    inner = np.clip(found.at, 1, n - 2)
    where, top, bend = top_of(*(curves.filtered[rows, inner + step] for step in (-1, 0, 1)))
    result = []
    for row, segment in enumerate(segments):
        words = _why_not(row, curves, found, block)
        if words:
            result.append(missing(segment, words, n_lost[row]))
            continue
        curved, position, sd = float(bend[row]), int(inner[row]), float(found.noise[row])
        times = block.times[row]
        result.append(
            SegmentPeak(
                segment=segment, state=MEASURED, speed=float(top[row]),
                seconds=_between(times, position + float(where[row])), speed_error=sd * left,
                seconds_error=sd * slope_left / (abs(curved) * rate**2) if curved else None,
                opposite=float(found.opposite[row]), noise=sd, n_lost=n_lost[row], reason="",
                remarks=_remarks(curves.one(row), position, times) if n_lost[row] or found.rivals[row] else (),
            )
        )  # fmt: skip
    return result


def _why_not(row: int, curves: _Curves, found: _Found, block: Block) -> str:
    """Why a curve shows no peak; '' where it shows one."""
    window = block.windows[row]
    if len(range(*window.indices(curves.raw.shape[1]))) < 3:
        return "the trace does not cover the time before the event"
    if found.both_ways[row]:
        return f"it turns both ways about equally ({found.up[row]:.0f} and {found.down[row]:.0f} deg/s)"
    if not found.in_doubt[row]:
        return ""
    span = Span(rate_hz=block.rate_hz, window=window, settings=block.settings)
    top = Top(at=int(found.at[row]), opposite=float(found.opposite[row]), noise=float(found.noise[row]))
    return _doubt(curves.one(row), top, span)


def _between(times: Floats, where: float) -> float:
    """The time at a place between two samples."""
    first = min(int(where), len(times) - 2)
    return float((times[first + 1] - times[first]) * (where - first) + times[first])


def _noise(curves: _Curves) -> Floats:
    """SD of the raw samples about the filtered curve, by the median, so that a peak the filter blunts counts little."""
    rest = curves.raw - curves.filtered
    result = np.empty(len(rest))
    whole = ~curves.lost.any(axis=1)
    result[whole] = _spread(rest[whole])
    for row in np.flatnonzero(~whole):
        result[row] = _spread(rest[row][~curves.lost[row]][None])[0]
    return 1.4826 * result


def _spread(rest: Floats) -> Floats:
    result: Floats = np.median(np.abs(rest - np.median(rest, axis=1, keepdims=True)), axis=1)
    return result


def _may_be_clipped(curves: _Curves, upward: faults.Mask) -> faults.Mask:
    """Which of the curves have their extreme often enough for `is_clipped` to look at them."""
    extreme = np.where(upward, curves.high, curves.low)
    result: faults.Mask = (curves.raw == extreme[:, None]).sum(axis=1) >= faults.FEWEST_HELD
    return result


def _may_have_rivals(sized: Floats, at: np.ndarray) -> faults.Mask:
    """Which curves, turned so that their peak is up, rise nearly as high elsewhere; `_remarks` looks at them."""
    middle = sized[:, 1:-1]
    tall = middle >= RIVAL * sized[np.arange(len(at)), at][:, None]
    tops = tall & (middle >= sized[:, :-2]) & (middle >= sized[:, 2:])
    away = np.abs(np.arange(1, sized.shape[1] - 1) - at[:, None]) > 1
    result: faults.Mask = (tops & away).any(axis=1)
    return result


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
