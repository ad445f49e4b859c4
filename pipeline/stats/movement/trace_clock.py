"""Finds the sampling of a trace from its time stamps: unit, rate, jitter, drift, doubled and skipped samples."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement.trace_values import TraceClock

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
        remarks=_remarks(jitter / interval, jitter, drift, counts["n_duplicate"], int((moves - 1).sum())), **counts,
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


def _remarks(relative: float, jitter: float, drift: float, doubled: int, skipped: int) -> tuple[str, ...]:
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
