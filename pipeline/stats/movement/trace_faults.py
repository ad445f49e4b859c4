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

    `values` (n,) or (channels, n) in deg/s on an even grid, missing ones NaN; the result alike.
    """
    rows = np.atleast_2d(values)
    lost = np.isnan(rows).ravel()
    scale = np.fmax.reduce(np.abs(rows), axis=1)  # NaN for a channel without a sample: nothing of it compares
    starts, ends = runs_of_equal(rows)
    level, n = rows.ravel()[starts], ends - starts
    quiet = QUIET * scale[starts // rows.shape[1]]
    held = (n >= FEWEST_HELD) & ((n - 1) / rate_hz > LONGEST_HOLD) & (np.abs(level) > quiet)
    zero = np.flatnonzero(level == 0)
    zero = zero[_between_same_side(rows, starts[zero], ends[zero], quiet[zero])]
    spells = [
        (starts[zero], ends[zero]),
        (starts[held] + 1, ends[held]),
    ]  # the first of those held was measured
    for firsts, lasts in spells:
        for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
            lost[first:last] = True
    return lost.reshape(values.shape)


def runs_of_equal(values: Floats) -> tuple[Positions, Positions]:
    """First and past-the-last place of every run of one value in a row; each missing sample is a run of its own.

    `values` (n,) or (channels, n), one channel after another: no run goes on into the next; both results (runs,).
    """
    rows = np.atleast_2d(values)
    begins = np.ones(rows.shape, dtype=bool)
    np.not_equal(rows[:, 1:], rows[:, :-1], out=begins[:, 1:])
    starts = np.flatnonzero(begins)
    return starts, np.append(starts[1:], rows.size)


def _between_same_side(rows: Floats, starts: Positions, ends: Positions, least: Floats) -> Mask:
    """Of runs of zeros (runs,), which are drop-outs: the curve does not pass through zero there."""
    values, length = rows.ravel(), rows.shape[1]
    inside = (starts % length > 0) & (ends % length > 0)
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
