"""The mean of single athletes' own changes in one group, with its interval; none for a small group."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from latewood.pipeline.stats.engine.later import stats

FEWEST = 8  # as for a camp's gain: under eight, single athletes are shown and no mean
LEVEL = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupMean:
    """Mean and interval of the changes of a group, in their own unit."""

    n: int
    mean: float
    low: float
    high: float
    level: float


def group_mean(changes: Sequence[float], level: float = LEVEL) -> GroupMean | None:
    """Return the mean of the changes with Student's t interval, or None under eight athletes.

    Every athlete counts the same, however long their stay was. No pooling and no order between groups.
    Source: Student 1908, Biometrika 6:1-25; checked against `scipy.stats.ttest_1samp`.

    >>> group_mean([1.0] * 7) is None
    True
    >>> found = group_mean([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0])
    >>> round(found.mean, 3), round(found.low, 3), round(found.high, 3)
    (4.5, 2.452, 6.548)
    """
    values = np.asarray(changes, dtype=float)
    if len(values) < FEWEST:
        return None
    mean = float(values.mean())
    error = float(values.std(ddof=1)) / float(np.sqrt(len(values)))
    half = float(stats.t.ppf(0.5 + level / 2.0, len(values) - 1)) * error
    return GroupMean(n=len(values), mean=mean, low=mean - half, high=mean + half, level=level)
