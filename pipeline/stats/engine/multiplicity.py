"""Many athletes, many measures, many camps: false flags and shrinkage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize

from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed_sums import Floats

SPREADS = 200  # grid on which the spread between camps is averaged


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledEstimates:
    """Several estimates of one kind: their mean, their true spread, and each one shrunk to the mean."""

    mean: float
    mean_variance: float
    spread_variance: float  # tau squared, between the true values
    p_equal: float  # Cochran's Q: chance of such differences where all are equal
    shrunk: Floats
    shrunk_variance: Floats


def keep_discoveries(p_values: Sequence[float], rate: float = 0.10) -> tuple[bool, ...]:
    """Which tests stay when the share of false ones among them is held at `rate`.

    Benjamini, Hochberg 1995, J R Stat Soc B 57:289-300.
    """
    given = np.asarray(p_values, dtype=float)
    ordered = np.sort(given)
    below = ordered[ordered <= rate * (np.arange(1, len(given) + 1) / len(given))]
    return tuple((given <= below[-1]).tolist()) if len(below) else (False,) * len(given)


def expected_false_flags(tests: int, error_rate: float) -> float:
    """How many of so many tests are expected to flag a change where nothing has changed.

    >>> expected_false_flags(40 * 8, 0.10)
    32.0
    """
    return float(tests * error_rate)


def paule_mandel(effects: ArrayLike, variances: ArrayLike) -> float:
    """Variance between true effects: where the generalised Q equals its degrees of freedom, zero at least.

    Paule, Mandel 1982, J Res Natl Bur Stand 87:377-385.
    `effects` and `variances` (k,); the result in the square of the effects' unit, 0 below two effects.
    """
    estimate, noise = np.asarray(effects, dtype=float), np.asarray(variances, dtype=float)

    def excess(spread: float) -> float:
        weight = 1.0 / (noise + spread)
        mean = float((weight * estimate).sum() / weight.sum())
        return float((weight * (estimate - mean) ** 2).sum()) - (len(estimate) - 1)

    if len(estimate) < 2 or excess(0.0) <= 0.0:
        return 0.0
    high = float(np.ptp(estimate) ** 2 * len(estimate) + noise.max())
    return float(optimize.brentq(excess, 0.0, high, xtol=1e-14 * high, rtol=1e-12))


def pool(effects: ArrayLike, variances: ArrayLike) -> PooledEstimates:
    """The pooled mean and the effects (k,) shrunk to it; variances (k,) are squared standard errors.

    The effects are shrunk by Paule and Mandel's spread; their variance counts that few camps leave the
    spread itself uncertain (see `_shrunk_variance`).
    """
    estimate, noise = np.asarray(effects, dtype=float), np.asarray(variances, dtype=float)
    spread = paule_mandel(estimate, noise)
    weight = 1.0 / (noise + spread)
    mean = float((weight * estimate).sum() / weight.sum())
    mean_variance = float(1.0 / weight.sum())
    pull = noise / (noise + spread)
    shrunk = pull * mean + (1.0 - pull) * estimate
    fixed = 1.0 / noise
    centre = float((fixed * estimate).sum() / fixed.sum())
    q = float((fixed * (estimate - centre) ** 2).sum())
    return PooledEstimates(
        mean=mean,
        mean_variance=mean_variance,
        spread_variance=spread,
        p_equal=float(stats.chi2.sf(q, len(estimate) - 1)) if len(estimate) > 1 else 1.0,
        shrunk=shrunk,
        shrunk_variance=_shrunk_variance(estimate, noise, shrunk),
    )


def _shrunk_variance(estimate: Floats, noise: Floats, shrunk: Floats) -> Floats:
    """Mean squared distance (k,) of the true effects from `shrunk`, averaged over the spread between them.

    Plugging in one spread covered 87 % where 95 % was said (6 or 10 camps that differ as much as their
    errors). The spread's SD has a flat prior, which needs three effects; fewer take the noise itself. Gelman,
    Carlin, Stern, Dunson, Vehtari, Rubin 2013, Bayesian Data Analysis, 3rd ed., section 5.4 (from memory).
    """
    if len(estimate) < 3:
        return noise
    widest = 2.0 * (float(np.ptp(estimate)) + 2.0 * float(np.sqrt(noise.max())))
    spread = widest * (np.arange(SPREADS) + 0.5) / SPREADS
    weight = 1.0 / (noise + spread[:, None] ** 2)
    total = weight.sum(axis=1)
    mean = (weight * estimate).sum(axis=1) / total
    misfit = (weight * (estimate - mean[:, None]) ** 2).sum(axis=1)
    score = 0.5 * (np.log(weight).sum(axis=1) - np.log(total) - misfit)
    chance = np.exp(score - score.max())
    pull = noise * weight
    middle = pull * mean[:, None] + (1.0 - pull) * estimate
    own = (1.0 - pull) * noise + pull**2 / total[:, None]
    return np.asarray(chance @ (own + (middle - shrunk) ** 2) / chance.sum(), dtype=float)
