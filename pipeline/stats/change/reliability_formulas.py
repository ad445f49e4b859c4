"""Reliability and change between two tests: the published formulas, on plain arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed_sums import Floats

FEWEST_PAIRS = 3
TWO_SIDED_95 = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanSquares:
    """Two-way analysis of variance of n subjects by k trials."""

    n: int
    k: int
    subjects: float
    trials: float
    error: float
    within: float


@dataclass(frozen=True, slots=True, kw_only=True)
class IntraclassCorrelations:
    """The six coefficients of Shrout and Fleiss 1979; `one` for a single trial, `mean` for the mean of k."""

    one_way: float
    two_way_random: float
    two_way_fixed: float
    mean_one_way: float
    mean_two_way_random: float
    mean_two_way_fixed: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Limits of agreement with 95 % intervals for the mean difference and for each limit."""

    bias: float
    sd: float
    lower: float
    upper: float
    bias_low: float
    bias_high: float
    lower_low: float
    lower_high: float
    upper_low: float
    upper_high: float


def mean_squares(scores: ArrayLike) -> MeanSquares:
    """The mean squares of scores (n subjects, k trials)."""
    table = np.asarray(scores, dtype=float)
    n, k = table.shape
    grand = table.mean()
    subjects = k * float(((table.mean(axis=1) - grand) ** 2).sum())
    trials = n * float(((table.mean(axis=0) - grand) ** 2).sum())
    rest = float(((table - grand) ** 2).sum()) - subjects - trials
    return MeanSquares(
        n=n,
        k=k,
        subjects=subjects / (n - 1),
        trials=trials / (k - 1),
        error=rest / ((n - 1) * (k - 1)),
        within=(trials + rest) / (n * (k - 1)),
    )


def intraclass(scores: ArrayLike) -> IntraclassCorrelations:
    """The six intraclass correlations of scores (n, k): Shrout, Fleiss 1979, Psychol Bull 86:420-428."""
    m = mean_squares(scores)
    k, drift = m.k, (m.trials - m.error) / m.n
    return IntraclassCorrelations(
        one_way=(m.subjects - m.within) / (m.subjects + (k - 1) * m.within),
        two_way_random=(m.subjects - m.error) / (m.subjects + (k - 1) * m.error + k * drift),
        two_way_fixed=(m.subjects - m.error) / (m.subjects + (k - 1) * m.error),
        mean_one_way=(m.subjects - m.within) / m.subjects,
        mean_two_way_random=(m.subjects - m.error) / (m.subjects + drift),
        mean_two_way_fixed=(m.subjects - m.error) / m.subjects,
    )


def typical_error(first: ArrayLike, second: ArrayLike) -> float:
    """SD of the differences of two trials over the root of two; blind to a shift between the trials.

    Hopkins 2000, Sports Med 30(1):1-15. Raises ValueError below three pairs.
    `first` and `second` (n,), one pair an athlete, in one unit; the result in it.
    """
    return float(_differences(first, second).std(ddof=1) / np.sqrt(2.0))


def log_typical_error_percent(first: ArrayLike, second: ArrayLike) -> float:
    """The typical error as a coefficient of variation, from the logarithms, in percent: Hopkins 2000.

    `first` and `second` (n,), above zero. Raises ValueError below three pairs.
    """
    return 100.0 * float(np.expm1(typical_error(np.log(np.asarray(first)), np.log(np.asarray(second)))))


def minimal_change(error: float, baseline_sessions: int = 1, degrees: float | None = None) -> float:
    """The change of one session against the mean of so many that noise exceeds once in twenty.

    1.96 TE sqrt(1 + 1/b): Weir 2005, J Strength Cond Res 19(1):231-240, for b = 1. With the degrees of
    freedom the error was estimated on, Student's t stands in the place of 1.96.

    >>> round(minimal_change(1.0), 2), round(minimal_change(1.0, degrees=10.0), 2)
    (2.77, 3.15)
    """
    quantile = TWO_SIDED_95 if degrees is None else float(stats.t.ppf(0.975, degrees))
    return float(quantile * error * np.sqrt(1.0 + 1.0 / baseline_sessions))


def chance_of_rise(change: float, error: float) -> float:
    """The chance that the true value rose between two sessions that both carry the typical error.

    The change is normal about the true one with SD TE √2, and nothing is known of it beforehand: Hopkins 2000,
    Sports Med 30:1-15 (likelihood that a change is real; from memory).

    >>> round(chance_of_rise(6.0, 4.0), 2)
    0.86
    """
    return float(stats.norm.cdf(change / (error * np.sqrt(2.0))))


def smallest_worthwhile_change(spread: float, error: float = 0.0) -> float:
    """A fifth of the SD between athletes after the noise is taken out of it: Hopkins 2000."""
    return 0.2 * float(np.sqrt(max(spread**2 - error**2, 0.0)))


def limits_of_agreement(first: ArrayLike, second: ArrayLike, multiple: float = TWO_SIDED_95) -> Agreement:
    """Mean difference (first minus second) and the limits `multiple` SD around it, with 95 % intervals.

    Bland, Altman 1986, Lancet i:307-310 (the paper itself takes a multiple of 2).
    `first` and `second` (n,), in one unit; the result in it. Raises ValueError below three pairs.
    """
    differences = -_differences(first, second)
    n, bias, sd = len(differences), float(differences.mean()), float(differences.std(ddof=1))
    quantile = float(stats.t.ppf(0.975, n - 1))
    wide, narrow = quantile * sd * np.sqrt(3.0 / n), quantile * sd / np.sqrt(n)
    lower, upper = bias - multiple * sd, bias + multiple * sd
    return Agreement(
        bias=bias,
        sd=sd,
        lower=lower,
        upper=upper,
        bias_low=float(bias - narrow),
        bias_high=float(bias + narrow),
        lower_low=float(lower - wide),
        lower_high=float(lower + wide),
        upper_low=float(upper - wide),
        upper_high=float(upper + wide),
    )


def repeatability(first: ArrayLike, second: ArrayLike) -> float:
    """Twice the root mean square of the repeat differences: Bland, Altman 1986.

    `first` and `second` (n,), in one unit; the result in it. Raises ValueError below three pairs.
    """
    return 2.0 * float(np.sqrt(np.mean(_differences(first, second) ** 2)))


def reliable_change(before: float, after: float, spread: float, reliability: float) -> float:
    """The change in units of its standard error; beyond 1.96 it is more than measurement error.

    Jacobson, Truax 1991, J Consult Clin Psychol 59(1):12-19: (after - before) / (sqrt(2) SD sqrt(1 - r)).
    """
    return float((after - before) / (np.sqrt(2.0) * spread * np.sqrt(1.0 - reliability)))


def _differences(first: ArrayLike, second: ArrayLike) -> Floats:
    result = np.asarray(second, dtype=float) - np.asarray(first, dtype=float)
    if len(result) < FEWEST_PAIRS:
        raise ValueError(
            f"repeated tests: too few pairs (got {len(result)}, {FEWEST_PAIRS} or more are accepted); add repeats"
        )
    return np.asarray(result, dtype=float)
