"""Shares of trials with intervals that allow for sessions differing by more than their trials would make them."""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist

import pandas as pd

FEWEST_REPEATS = 10  # sessions beyond each athlete's first, over all; of this tool


def wilson(count: float, n: float, level: float = 0.95) -> tuple[float, float]:
    """The score interval of a share; `n` may be an effective number.

    Source: Wilson 1927, J Am Stat Assoc 22:209-212.

    >>> tuple(round(v, 4) for v in wilson(7, 8))
    (0.5291, 0.9776)
    """
    z = NormalDist().inv_cdf((1 + level) / 2)
    share = count / n
    middle = (share + z**2 / (2 * n)) / (1 + z**2 / n)
    half = z / (1 + z**2 / n) * sqrt(share * (1 - share) / n + z**2 / (4 * n**2))
    return max(0.0, middle - half), min(1.0, middle + half)


def difference_of_shares(
    before: tuple[float, float], after: tuple[float, float], level: float = 0.95
) -> tuple[float, float, float]:
    """After minus before, each as (count, n): the difference and its hybrid score interval.

    Source: Newcombe 1998, Stat Med 17:873-890, method 10.

    >>> tuple(round(v, 4) for v in difference_of_shares((48, 80), (56, 70)))
    (0.2, 0.0524, 0.3339)
    """
    p_before, p_after = before[0] / before[1], after[0] / after[1]
    (low_before, high_before), (low_after, high_after) = wilson(*before, level), wilson(*after, level)
    difference = p_after - p_before
    low = difference - sqrt((p_after - low_after) ** 2 + (high_before - p_before) ** 2)
    high = difference + sqrt((high_after - p_after) ** 2 + (p_before - low_before) ** 2)
    return difference, low, high


def design_effect(trials: pd.DataFrame) -> float | None:
    """How much more the sessions of one owner differ than trials drawn at random would make them; at least 1.

    `trials` has `owner` (athlete and what is compared), `session` and `hit` (0 or 1). Mean square between the sessions
    of an owner over the mean square within sessions. None with fewer than `FEWEST_REPEATS` repeated sessions.

    Source: the ratio is the usual design effect of clusters (Kish 1965, Survey Sampling, section 5.4; from memory).
    """
    by_session = trials.groupby(["owner", "session"], sort=False)["hit"]
    sessions = by_session.agg(["size", "mean"]).reset_index()
    repeats = len(sessions) - sessions["owner"].nunique()
    left = int(sessions["size"].sum()) - len(sessions)
    if repeats < FEWEST_REPEATS or left < 1:
        return None
    centre = trials.groupby("owner", sort=False)["hit"].mean()
    between = float((sessions["size"] * (sessions["mean"] - sessions["owner"].map(centre)) ** 2).sum())
    within = float((sessions["size"] * sessions["mean"] * (1 - sessions["mean"])).sum())
    if within <= 0:
        return None
    return max(1.0, (between / repeats) / (within / left))
