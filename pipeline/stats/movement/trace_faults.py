"""Where a channel of a trace was not recorded truly: drop-outs, values held, zeros amid movement, clipped tops."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.mixed_sums import Floats

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
