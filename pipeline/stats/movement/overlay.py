"""Trials of one day laid over each other: the middle curve with its range, and the times of peaks with their errors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from latewood.pipeline.stats.engine.mixed_sums import Floats

FEWEST_TRIALS = 3  # before a middle and a range are given; common practice, no source
LOW, HIGH = 0.1, 0.9  # the range: from the 10th to the 90th percentile of the trials
MEDIAN_LOSS = sqrt(pi / 2)  # the median's standard error over the mean's, normal values, many trials


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """One curve as recorded: times (n,) on the common axis, rising, and values (n,), NaN where nothing is known."""

    times: Floats
    values: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class MiddleCurve:
    """Median and range of the trials at each moment of the grid (m,); NaN where too few trials have a value."""

    grid: Floats
    middle: Floats
    low: Floats
    high: Floats
    n_trials: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """A time from repeated trials, with the SD between them and the 95 % half width of the day's median."""

    middle: float
    sd: float | None
    half: float | None
    n: int


def on_common_grid(curves: Sequence[Laid], grid: ArrayLike) -> Floats:
    """Each curve on the grid (m,) by straight lines between its own samples: (k, m), NaN outside and beside holes."""
    places = np.asarray(grid, dtype=float)
    result = np.full((len(curves), len(places)), np.nan)
    for row, one in enumerate(curves):
        if len(one.times):
            result[row] = np.interp(places, one.times, one.values, left=np.nan, right=np.nan)
    return result


def middle_curve(curves: Sequence[Laid], grid: ArrayLike) -> MiddleCurve | None:
    """Return median and 10th to 90th percentile of the curves at each moment; None with fewer than three trials.

    Trials may differ in length and sampling rate. A moment that fewer than three of them, or fewer than half, have a
    value at is NaN, so that a middle never jumps where single trials begin and end. `grid` (m,).

    Source of the percentiles: definition 7 of Hyndman and Fan 1996, Am Stat 50:361-365.
    """
    if len(curves) < FEWEST_TRIALS:
        return None
    values = on_common_grid(curves, grid)
    n = (~np.isnan(values)).sum(axis=0)
    enough = n >= max(FEWEST_TRIALS, len(curves) / 2)
    levels = np.full((3, values.shape[1]), np.nan)
    if enough.any():
        levels[:, enough] = np.nanquantile(values[:, enough], [LOW, 0.5, HIGH], axis=0)
    return MiddleCurve(
        grid=np.asarray(grid, dtype=float),
        low=levels[0],
        middle=levels[1],
        high=levels[2],
        n_trials=len(curves),
    )


def share_of_way(seconds: ArrayLike, start: float, end: float) -> Floats:
    """Times (n,) as per cent of the way from one event to another, (n,).

    >>> share_of_way([0.45, 0.525, 0.6], 0.45, 0.6).round(6).tolist()
    [0.0, 50.0, 100.0]
    """
    result: Floats = 100 * (np.asarray(seconds, dtype=float) - start) / (end - start)
    return result


def timing_of(values: Sequence[float]) -> Timing | None:
    """The median of a day's trials with the error that their own spread leaves in it; None without trials.

    The half width is t(n - 1) times the standard error of a median, from three trials on. What moves a whole day (the
    sensor put on anew) is not in it.

    Source: variance of the median of normal values, pi/2 times that of the mean (Kendall and Stuart, The Advanced
    Theory of Statistics 1, chapter 10; from memory); for few trials it is wide rather than narrow.
    """
    n = len(values)
    if not n:
        return None
    sd = float(np.std(values, ddof=1)) if n > 1 else None
    half = None
    if n >= FEWEST_TRIALS and sd is not None:
        half = float(stats.t.ppf(0.975, n - 1)) * MEDIAN_LOSS * sd / sqrt(n)
    return Timing(middle=float(np.median(values)), sd=sd, half=half, n=n)


def gaps_of(peaks: Sequence[tuple[str, dict[int, float]]]) -> dict[tuple[str, str], Timing]:
    """The gap between each segment's peak and the next one's in the order given, over the trials that have both.

    `peaks`: segment and its times by trial. What is shared by both, such as an event marked late, cancels.
    """
    result = {}
    for (before, first), (after, second) in pairwise(peaks):
        gap = timing_of([second[t] - first[t] for t in sorted(first.keys() & second.keys())])
        if gap is not None:
            result[before, after] = gap
    return result
