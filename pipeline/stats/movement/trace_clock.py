"""Finds the sampling of a trace from its time stamps: unit, rate, jitter, drift, doubled and skipped samples."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

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
_ENDS = (-1.0, 1.0)  # of the scaled grid
_FEW = 24  # traces, below which numbers one by one are faster than arrays
_NONE: Floats = np.empty(0)
Smooth = tuple[Floats, float, Floats]
Clocked = tuple[TraceClock, Floats, NDArray[np.int64]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Steps:
    """The stamps (n,) of one trace and the steps between them, and where it stands among the traces."""

    place: int
    given: Floats
    steps: Floats
    unit: str
    problem: str
    n_duplicate: int
    n_backward: int


def read_clock(stamps: ArrayLike) -> Clocked:
    """Return the clock of a trace, its smooth times in seconds, and where each sample stands among them.

    `stamps` are the times as the file writes them, in s or ms: at 100 to 1000 samples a second the two cannot be
    confused. Samples are put on an even grid by their steps, so that skipped ones are holes in it; a sample that
    repeats a time has position -1. The times are a second-degree fit of stamps on grid positions: it averages
    jitter and follows a drift. An unusable clock has no times.
    `stamps` (n,), positions (n,); the times have one entry for each place of the grid, holes counted.
    """
    return read_clocks([np.asarray(stamps, dtype=float)])[0]


def read_clocks(traces: Sequence[Floats]) -> list[Clocked]:
    """As `read_clock`, of many traces: those with as many samples are read together. The stamps of each are (n,)."""
    result: list[Clocked | None] = [None] * len(traces)
    alike: dict[int, list[_Steps]] = {}
    for place, given in enumerate(traces):
        own = _steps(place, given)
        problem = own.problem or ("" if own.unit else _no_rate(own.steps))
        if problem:
            result[place] = _unusable(problem, own)
        else:
            alike.setdefault(len(given) - own.n_duplicate, []).append(own)
    for together in alike.values():
        for own, clocked in zip(together, _clocks(together), strict=True):
            result[own.place] = clocked
    return [clocked for clocked in result if clocked is not None]


def _steps(place: int, given: Floats) -> _Steps:
    """The steps between the stamps of one trace, and what is wrong with them."""
    steps = np.diff(given)
    forward = bool((steps > 0).all())
    duplicate, backward = (0, 0) if forward else (int((steps == 0).sum()), int((steps < 0).sum()))
    own = _Steps(
        place=place,
        given=given,
        steps=steps,
        unit=_unit(steps),
        problem="",
        n_duplicate=duplicate,
        n_backward=backward,
    )
    return (
        replace(own, problem=_problem(own)) if duplicate or backward or len(given) < FEWEST_SAMPLES else own
    )


def _clocks(together: Sequence[_Steps]) -> list[Clocked]:
    """The clocks of traces with as many stamps, doubled ones aside."""
    kept = [np.concatenate([[True], own.steps != 0]) if own.n_duplicate else slice(None) for own in together]
    factors = np.array([_SECONDS[own.unit] for own in together])
    seconds = np.stack([own.given[mine] for own, mine in zip(together, kept, strict=True)]) * factors[:, None]
    grids = _grids(seconds)
    fitted: list[Smooth] = [(_NONE, 0.0, _NONE)] * len(together)
    even = (grids[:, -1] == grids.shape[1] - 1).tolist()
    whole = [at for at, is_even in enumerate(even) if is_even]
    for rows in (whole, *([at] for at, is_even in enumerate(even) if not is_even)):
        if rows:
            for at, fit in zip(rows, _smooth(grids[rows[0]], seconds[rows]), strict=True):
                fitted[at] = fit
    result = []
    for at, own in enumerate(together):
        times, jitter, slopes = fitted[at]
        grid, moment = grids[at], seconds[at]
        interval = float((moment[-1] - moment[0]) / grid[-1])
        if jitter > WORST_JITTER * interval:
            words = f"the time stamps jump by {jitter * 1000:.1f} ms about an even clock; export with steady sampling"
            result.append(_unusable(words, own))
            continue
        drift = 100 * float((slopes[1] - slopes[0]) / interval)
        skipped = int(grid[-1]) + 1 - len(grid)
        clock = TraceClock(
            usable=True, unit=own.unit, rate_hz=1 / interval, n_samples=len(own.given),
            seconds=float(grid[-1] * interval), jitter_ms=jitter * 1000, drift_percent=drift,
            n_duplicate=own.n_duplicate, n_backward=own.n_backward, n_skipped=skipped, reason="",
            remarks=_remarks(jitter / interval, jitter, drift, own.n_duplicate, skipped),
        )  # fmt: skip
        position = grid
        if own.n_duplicate:
            position = np.full(len(own.given), -1)
            position[kept[at]] = grid
        result.append((clock, times, position))
    return result


def _smooth(grid: NDArray[np.int64], seconds: Floats) -> list[Smooth]:
    """A second-degree fit of stamps on one grid: its times at every place, SD of the rest, its slope at both ends.

    `grid` (m,); `seconds` (traces, m) are each fitted alone. Beside an orthogonal base no sum depends on another trace.
    """
    degree, last = (2 if len(grid) > FEWEST_SAMPLES else 1), int(grid[-1])
    scaled, places = 2 * grid / last - 1, 2 * np.arange(last + 1) / last - 1
    base, turn = np.linalg.qr(np.vander(scaled, degree + 1, increasing=True))
    there = np.linalg.solve(turn.T, np.vander(places, degree + 1, increasing=True).T)
    steep = np.array([[0.0] * len(_ENDS), [1.0] * len(_ENDS), [2 * end for end in _ENDS]])[: degree + 1]
    slope = np.linalg.solve(turn.T, steep) * 2 / last
    first = seconds[:, :1]
    moved = seconds - first
    shares = [(moved * part).sum(axis=1)[:, None] for part in np.ascontiguousarray(base.T)]
    times = first + sum(share * part for share, part in zip(shares, there, strict=True))
    slopes = sum(share * part for share, part in zip(shares, slope, strict=True))
    jitter = np.std(seconds - times[:, grid], axis=1, ddof=1).tolist()
    return list(zip(times, jitter, slopes, strict=True))


def _grids(seconds: Floats) -> NDArray[np.int64]:
    """Where each sample stands on an even grid, by a clock that follows the stamps too slowly for jitter to move it.

    `seconds` (traces, n); the result alike.
    """
    steps = np.diff(seconds, axis=1)
    usual = np.abs(steps / np.median(steps, axis=1)[:, None] - 1) < 0.5
    intervals = steps.mean(axis=1)
    for row in np.flatnonzero(~usual.all(axis=1)):
        intervals[row] = steps[row][usual[row]].mean()
    if len(seconds) >= _FEW:
        return np.stack(_walk(seconds.T, intervals, _whole_steps), axis=1).astype(np.int64)
    walked = [
        _walk(row.tolist(), float(own), _whole_step) for row, own in zip(seconds, intervals, strict=True)
    ]
    return np.array(walked, dtype=np.int64)


def _walk(stamps: Any, interval: Any, whole: Callable[[Any], Any]) -> list[Any]:  # noqa: ANN401  floats, or rows of them
    """The places of stamps one after another; of one trace as numbers, of several at once as arrays."""
    now = stamps[0]
    at = [0 * now]
    for stamp in stamps[1:]:
        step = whole((stamp - now) / interval + 1 - SKIP_FROM)
        now = now + step * interval
        late = stamp - now
        now = now + FOLLOW * late
        interval = interval + FOLLOW**2 / 4 * late / step
        at.append(at[-1] + step)
    return at


def _whole_step(step: float) -> int:
    return max(1, int(step))


def _whole_steps(steps: Floats) -> Floats:
    result: Floats = np.maximum(1.0, np.trunc(steps))
    return result


def _unit(steps: Floats) -> str:
    forward = steps[steps > 0]
    if not len(forward):
        return ""
    middle = float(np.median(forward))
    for unit, factor in _SECONDS.items():
        if LOWEST_HZ / ROOM <= 1 / (middle * factor) <= HIGHEST_HZ * ROOM:
            return unit
    return ""


def _problem(own: _Steps) -> str:
    given = own.given
    if len(given) < FEWEST_SAMPLES:
        return f"the trace has {len(given)} samples; {FEWEST_SAMPLES} are needed"
    if own.n_backward:
        return f"the time runs backwards {own.n_backward} times; give every trial its own number"
    if own.n_duplicate > MOST_DUPLICATES * len(own.steps):
        return f"{own.n_duplicate} of {len(given)} samples repeat a time; write the time with more digits"
    return ""


def _no_rate(steps: Floats) -> str:
    middle = float(np.median(steps[steps > 0]))
    return (
        f"a sample comes every {middle:g} of the file's time unit; {LOWEST_HZ:.0f} to {HIGHEST_HZ:.0f} a second, "
        "with times in s or ms, can be read"
    )


def _unusable(reason: str, own: _Steps) -> Clocked:
    clock = TraceClock(
        usable=False, unit=own.unit, rate_hz=None, n_samples=len(own.given), seconds=None, jitter_ms=None,
        drift_percent=None, n_duplicate=own.n_duplicate, n_backward=own.n_backward, n_skipped=0, reason=reason,
        remarks=(),
    )  # fmt: skip
    return clock, _NONE, np.full(len(own.given), -1)


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
