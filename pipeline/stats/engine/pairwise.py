"""Every pair of several estimates, with intervals that hold together: all of them at once, 95 times in 100."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike

FEWEST_DEGREES = 2.0  # below which the table of the studentised range has no row
MOST_P = 0.9  # the largest the table tells; its smallest is .001


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Estimate `first` less estimate `second` (places in a list of `k`) and its simultaneous interval."""

    first: int
    second: int
    k: int
    difference: float
    low: float
    high: float
    ratio: float  # of the difference to its error, as the studentised range counts it
    degrees: float

    @property
    def p(self) -> float:
        """The p value adjusted for all pairs, from .001 to .9."""
        from statsmodels.stats.libqsturng import psturng  # here: commands that fit nothing do not wait for it

        return float(np.atleast_1d(psturng(self.ratio, self.k, self.degrees))[0]) if self.ratio else MOST_P

    @property
    def apart(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0.0 or self.high < 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SeveralEstimates:
    """k estimates (k,) with own variances and degrees of freedom (k,), and what s shared offsets do to each (k, s)."""

    values: np.ndarray
    variances: np.ndarray
    degrees: np.ndarray
    offsets: np.ndarray


def differences(
    effects: ArrayLike, variances: ArrayLike, degrees: ArrayLike, shared: ArrayLike, level: float = 0.95
) -> tuple[Difference, ...]:
    """All k(k - 1)/2 differences of k independent effects (k,) with own variances and degrees of freedom (k,).

    `shared` (k, s) is what one standard error of each of s shared offsets does to each effect: an offset that
    moves two effects alike drops out of their difference. The interval is the difference ± q/√2 standard errors, q
    of the studentised range of k with Welch's degrees of freedom: Games, Howell 1976, J Educ Stat 1:113-125 †, for
    unequal variances what Tukey and Kramer's is for equal ones.
    """
    y, own, nu = (np.asarray(x, dtype=float) for x in (effects, variances, degrees))
    common = np.asarray(shared, dtype=float).reshape(len(y), -1)
    estimates = SeveralEstimates(values=y, variances=own, degrees=nu, offsets=common)
    return tuple(_difference(estimates, i, j, level) for i, j in combinations(range(len(y)), 2))


def _difference(estimates: SeveralEstimates, i: int, j: int, level: float) -> Difference:
    from statsmodels.stats.libqsturng import qsturng  # here: commands that fit nothing do not wait for it

    y, own, nu, common = estimates.values, estimates.variances, estimates.degrees, estimates.offsets
    offsets = float(((common[i] - common[j]) ** 2).sum())
    variance = own[i] + own[j] + offsets
    welch = variance**2 / (own[i] ** 2 / nu[i] + own[j] ** 2 / nu[j])
    freedom, off = max(FEWEST_DEGREES, float(welch)), float(y[i] - y[j])
    error = float(np.sqrt(variance / 2.0))
    half = float(qsturng(level, len(y), freedom)) * error
    return Difference(
        first=i,
        second=j,
        k=len(y),
        difference=off,
        low=off - half,
        high=off + half,
        ratio=abs(off) / error,
        degrees=freedom,
    )


def any_apart(found: Sequence[Difference]) -> bool:
    """Whether at least one pair is separated."""
    return any(one.apart for one in found)
