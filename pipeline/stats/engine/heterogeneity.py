"""How much several estimates of one kind truly differ: Q, I squared, the spread between them, what a new one may be.

The estimates may share errors (camps joined by one offset): `covariance` is that of their errors. With a diagonal
one every number is that of an ordinary random-effects meta-analysis.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize

from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed_sums import Floats

FEWEST_FOR_NEXT = 4  # estimates; with three the interval for a new one rests on one degree of freedom


@dataclass(frozen=True, slots=True, kw_only=True)
class Heterogeneity:
    """The true differences between k estimates; `spread` is the SD between true values, in their unit.

    `share` is I squared: the part of the differences seen that is true, 0 to 1. `next_low` and `next_high`
    enclose the true value of one more of the same kind; None below four estimates.
    """

    mean: float
    mean_low: float
    mean_high: float
    q: float
    spread: float
    spread_low: float
    spread_high: float
    share: float
    share_low: float
    share_high: float
    next_low: float | None
    next_high: float | None


def heterogeneity(
    effects: ArrayLike, covariance: ArrayLike, level: float = 0.95, degrees: ArrayLike | None = None
) -> Heterogeneity:
    """The heterogeneity of k effects (k,) whose errors have that covariance (k, k).

    Without `degrees` the covariance is taken as known. With the degrees of freedom (k,) on which each variance
    rests, Q is set against Welch's distribution instead of chi-square: with 12 equal camps of 8 to 30 athletes
    chi-square put the whole interval of the spread above zero in 8 of 100 programs instead of 2.5 (Welch 1951,
    Biometrika 38:330-336 †; at a spread the degrees grow as the variance's own part of the total shrinks).

    Spread: where the generalised Q equals its degrees of freedom (Paule, Mandel 1982, J Res Natl Bur Stand
    87:377-385). Its interval: where Q equals its chi-square quantiles (Viechtbauer 2007, Stat Med 26:37-52). I
    squared: Higgins, Thompson 2002, Stat Med 21:1539-1558, from the spread. A new one: mean with t on k - 2
    (Higgins, Thompson, Spiegelhalter 2009, J R Stat Soc A 172:137-159). The mean has t on k - 1. All † but Q and
    the interval of the spread, which are held against a published example. Raises ValueError below two effects.
    """
    y, errors = np.asarray(effects, dtype=float), np.asarray(covariance, dtype=float)
    k = len(y)
    if k < 2:
        raise ValueError(f"effects: two or more are needed to tell a spread (got {k})")
    tail = (1.0 - level) / 2.0
    nu = None if degrees is None else np.asarray(degrees, dtype=float)
    chances = (None, 1.0 - tail, tail)
    variance = [_where_q_is(y, errors, _expected(np.diag(errors), nu, chance)) for chance in chances]
    mean, mean_variance, _ = _fit(y, errors, variance[0])
    half = float(stats.t.ppf(1.0 - tail, k - 1) * np.sqrt(mean_variance))
    typical = (k - 1) / _information(errors)
    share = [v / (v + typical) for v in variance]
    reach = float(stats.t.ppf(1.0 - tail, k - 2) * np.sqrt(variance[0] + mean_variance)) if k > 2 else 0.0
    estimate = k >= FEWEST_FOR_NEXT
    return Heterogeneity(
        mean=mean,
        mean_low=mean - half,
        mean_high=mean + half,
        q=_fit(y, errors, 0.0)[2],
        spread=float(np.sqrt(variance[0])),
        spread_low=float(np.sqrt(variance[1])),
        spread_high=float(np.sqrt(variance[2])),
        share=share[0],
        share_low=share[1],
        share_high=share[2],
        next_low=mean - reach if estimate else None,
        next_high=mean + reach if estimate else None,
    )


def _fit(y: Floats, errors: Floats, variance: float) -> tuple[float, float, float]:
    """Weighted mean, its variance, and the generalised Q, with so much variance between the true values."""
    weight = np.linalg.inv(errors + variance * np.eye(len(y)))
    total = float(weight.sum())
    mean = float(weight.sum(axis=0) @ y) / total
    off = y - mean
    return mean, 1.0 / total, float(off @ weight @ off)


def _expected(noise: Floats, degrees: Floats | None, chance: float | None) -> Callable[[float], float]:
    """What Q is expected to be (its mean, or the quantile of that chance) at a variance between true values."""
    k = len(noise)

    def known(_: float) -> float:
        return float(k - 1 if chance is None else stats.chi2.ppf(chance, k - 1))

    def learned(variance: float) -> float:
        total = noise + variance
        weight = 1.0 / total
        freedom = np.asarray(degrees) * (total / noise) ** 2
        unsure = float(((1.0 - weight / weight.sum()) ** 2 / freedom).sum())
        second = (k**2 - 1.0) / (3.0 * unsure)
        factor = (k - 1.0) * (1.0 + 2.0 * (k - 2.0) * unsure / (k**2 - 1.0))
        ratio = second / max(second - 2.0, 1.0) if chance is None else stats.f.ppf(chance, k - 1, second)
        return float(factor * ratio)

    return known if degrees is None else learned


def _where_q_is(y: Floats, errors: Floats, goal: Callable[[float], float]) -> float:
    """The variance between true values at which the generalised Q falls to its goal; zero where it starts below."""

    def excess(variance: float) -> float:
        return _fit(y, errors, variance)[2] - goal(variance)

    if excess(0.0) <= 0.0:
        return 0.0
    high = float(np.ptp(y) ** 2 + np.trace(errors))
    while excess(high) > 0.0:
        high *= 4.0
    return float(optimize.brentq(excess, 0.0, high, xtol=1e-14 * high, rtol=1e-12))


def _information(errors: Floats) -> float:
    """Trace of the weights with the mean taken out: (k - 1) over it is a typical error variance."""
    weight = np.linalg.inv(errors)
    return float(np.trace(weight) - (weight @ weight).sum() / weight.sum())
