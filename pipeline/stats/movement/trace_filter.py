"""The low-pass filter of traces, what it leaves of white noise, and the sub-sample top of a curve."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from latewood.pipeline.stats.engine.later import signal
from latewood.pipeline.stats.engine.mixed_sums import Floats


def one_way_cutoff(cutoff_hz: float, order: int, rate_hz: float) -> float:
    """The cut-off of one pass so that two passes together halve the power at `cutoff_hz`.

    Forward and back, the power at the designed cut-off is 1/4 and not 1/2, so one pass must be wider: by
    (√2 − 1)^(−1/2n) for order n (Winter 2009, Biomechanics and Motor Control, section 3.4; from memory), taken on
    the warped frequencies of the digital filter.

    >>> round(1 / one_way_cutoff(1.0, 2, 1e6), 3)
    0.802
    """
    warped = np.tan(np.pi * cutoff_hz / rate_hz) * (np.sqrt(2) - 1) ** (-1 / (2 * order))
    return float(rate_hz / np.pi * np.arctan(warped))


@lru_cache(maxsize=1024)
def _sections(cutoff_hz: float, order: int, rate_hz: float) -> tuple[Floats, Floats, int]:
    """The sections of the filter, their state after a step that has gone on for ever, and the samples padded."""
    one_way = one_way_cutoff(cutoff_hz, order, rate_hz)
    sections: Floats = signal.butter(order, one_way, btype="low", fs=rate_hz, output="sos")
    taps = 2 * len(sections) + 1 - min(int((sections[:, 2] == 0).sum()), int((sections[:, 5] == 0).sum()))
    return sections, signal.sosfilt_zi(sections), 3 * taps


def low_pass(values: Floats, rate_hz: float, cutoff_hz: float, order: int) -> Floats:
    """The evenly sampled values filtered forward and back, so without delay.

    To the last bit what scipy.signal.sosfiltfilt gives, which works out the state of the filter anew for each curve.
    `values` (n,) or (curves, n), none missing, more than are padded; the result alike.
    """
    sections, state, pad = _sections(cutoff_hz, order, rate_hz)
    if values.shape[-1] <= pad:
        short: Floats = signal.sosfiltfilt(sections, values)  # refuses them in its own words
        return short
    rows = np.atleast_2d(values)
    before = 2 * rows[:, :1] - rows[:, pad:0:-1]
    after = 2 * rows[:, -1:] - rows[:, -2 : -pad - 2 : -1]
    padded = np.concatenate([before, rows, after], axis=1)
    forward, _ = signal.sosfilt(sections, padded, zi=state[:, None, :] * padded[None, :, :1])
    back, _ = signal.sosfilt(sections, forward[:, ::-1], zi=state[:, None, :] * forward[None, :, -1:])
    result: Floats = back[:, ::-1][:, pad : pad + rows.shape[1]]
    return result.reshape(values.shape)


@lru_cache(maxsize=1024)
def noise_left(cutoff_hz: float, order: int, rate_hz: float) -> tuple[float, float, float]:
    """The SD that white noise of SD 1 leaves in the filtered curve, in its slope per second, in raw less filtered."""
    reach = int(4 * rate_hz / cutoff_hz)
    impulse = np.zeros(2 * reach + 1)
    impulse[reach] = 1.0
    answer = low_pass(impulse, rate_hz, cutoff_hz, order)
    slope = np.gradient(answer) * rate_hz
    rest = impulse - answer
    left, slope_left, rest_left = (float(np.sqrt((part**2).sum())) for part in (answer, slope, rest))
    return left, slope_left, rest_left


def top_of(before: Floats, here: Floats, after: Floats) -> tuple[Floats, Floats, Floats]:
    """Position, height and second difference of the parabolas through samples (tops,) and their two neighbours.

    The position is in samples from the middle one.

    >>> curve = [-(x - 2.3) ** 2 for x in (1, 2, 3)]
    >>> [round(float(v[0]), 3) for v in top_of(*np.array(curve)[:, None])]
    [0.3, 0.0, -2.0]
    """
    bend = before - 2 * here + after
    with np.errstate(divide="ignore", invalid="ignore"):
        move = np.where(bend == 0, 0.0, 0.5 * (before - after) / bend)
    return move, here - 0.25 * (before - after) * move, bend
