"""The mean of several estimates by what they themselves scatter, and the true value of one more of the kind.

Both hold with few estimates whose own errors are stated too large or too small, where the usual interval does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from latewood.pipeline.stats.engine.mixed_sums import Floats

GRID: Final = 400  # variances between true values at which the data are asked
LOG2_DRAWS: Final = 12
SEED: Final = 20_330_214


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanWithPrediction:
    """Mean of true values with its interval, and the interval of one more true value."""

    mean: float
    low: float
    high: float
    next_low: float
    next_high: float


def pooled(
    effects: ArrayLike, covariance: ArrayLike, spread: float, level: float = 0.95
) -> MeanWithPrediction:
    """Return the mean of k effects (k,) whose errors have that covariance (k, k), with a new one's interval.

    Mean: variance (generalised Q at `spread`) / (k - 1) / (sum of weights), t on k - 1: the errors' common size
    comes from the scatter (Hartung, Knapp 2001, Stat Med 20:3875-3889; Sidik, Jonkman 2002, Stat Med 21:3153-3159).
    New one: the variance between true values is drawn from its confidence distribution (where Q passes each
    chi-square quantile), then mean and deviation (Nagashima, Noma, Furukawa 2019, Stat Methods Med Res
    28:1689-1702, all but their way to draw †). Raises ValueError below three effects.
    """
    from scipy import stats  # here: commands that fit nothing do not wait for it

    y, errors = np.asarray(effects, dtype=float), np.asarray(covariance, dtype=float)
    if len(y) < 3:
        raise ValueError(f"effects: three or more are needed (got {len(y)})")
    (mean,), (error,), _ = _at(y, errors, np.array([spread**2]))
    half = float(stats.t.ppf(0.5 + level / 2.0, len(y) - 1)) * float(error)
    low, high = _next(y, errors, level)
    return MeanWithPrediction(
        mean=float(mean), low=float(mean) - half, high=float(mean) + half, next_low=low, next_high=high
    )


def _at(y: Floats, errors: Floats, variances: Floats) -> tuple[Floats, Floats, Floats]:
    """Means, their standard errors by scatter, and Q, (v,), at each variance between true values (v,)."""
    weight = np.linalg.inv(errors[None] + variances[:, None, None] * np.eye(len(y))[None])
    total = weight.sum(axis=(1, 2))
    mean = (weight.sum(axis=1) @ y) / total
    off = y[None] - mean[:, None]
    q = np.einsum("vi,vij,vj->v", off, weight, off)
    return mean, np.sqrt(q / (len(y) - 1) / total), q


def _next(y: Floats, errors: Floats, level: float) -> tuple[float, float]:
    from scipy import stats  # here: commands that fit nothing do not wait for it

    k = len(y)
    size = float(np.ptp(y)) + float(np.sqrt(np.trace(errors) / k))
    variances = np.concatenate([[0.0], np.geomspace(1e-4, 1e2, GRID - 1) * size]) ** 2
    mean, error, q = _at(y, errors, variances)
    below = stats.chi2.sf(q, k - 1)  # how sure it is that the variance is no larger than this
    share, when, z = _draws(k - 1)
    drawn = np.interp(share, below, variances)  # zero where even none is too much
    centre, unsure = np.interp(drawn, variances, mean), np.interp(drawn, variances, error)
    new = centre + unsure * when + np.sqrt(drawn) * z
    low, high = np.quantile(new, [(1.0 - level) / 2.0, (1.0 + level) / 2.0])
    return float(low), float(high)


@cache
def _draws(degrees: int) -> tuple[Floats, Floats, Floats]:
    """4,096 scrambled Sobol points: uniform, t on those degrees, normal; the same each time."""
    from scipy import stats  # here: commands that fit nothing do not wait for it
    from scipy.stats import qmc

    points = qmc.Sobol(3, rng=np.random.default_rng((SEED, degrees))).random_base2(LOG2_DRAWS)
    inner = np.clip(points, 1e-9, 1.0 - 1e-9)
    return inner[:, 0], np.asarray(stats.t.ppf(inner[:, 1], degrees)), np.asarray(stats.norm.ppf(inner[:, 2]))
