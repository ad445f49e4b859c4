"""A percentile among weighted peers: whose results count how much, and how sure the percentile is."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from latewood.pipeline.stats.engine.normal import norm
from latewood.pipeline.stats.links.link_design import independent

Floats = NDArray[np.float64]

BANDWIDTH: Final = 1.2  # Mahalanobis distance at which a peer counts e^(-1/2)
NEIGHBOURS: Final = 30
CHUNK: Final = 512
MOST_LEVERAGE: Final = 1.0 - 1e-6
TINY: Final = 1e-300
ROUNDING: Final = 1e-10


class PoolStandings(NamedTuple):
    """One pool's standings; every array has one entry per athlete, or (athlete, peer)."""

    percentile: Floats  # 0-100, of the sign given
    low: Floats
    high: Floats
    n_effective: Floats
    distance: Floats  # from the middle of the pool
    peers: NDArray[np.intp]  # (athlete, up to 30), nearest first
    peer_weights: Floats


def percentile_among(
    build: Floats,
    value: Floats,
    level: float,
    noise: Floats | None = None,
    offset_error: Floats | None = None,
) -> PoolStandings:
    """Return where each athlete stands among the others of similar build.

    `build` (n, 3) is age, height, mass; `value` (n,) grows with what is better. The pool's quadratic mean is
    taken off first, so that a peer who is older or heavier than the athlete is compared by what is usual
    there; the athlete's own residual leaves the athlete out. Percentiles are the centre (k + 1/2)/(n + 1) of
    Jeffreys' interval on effective counts, whose ends are moved apart on the logit scale by the uncertainty
    of the mean at that build, by the athlete's own day-to-day noise (`noise` (n,), an SD in the unit of
    `value`) and by the offsets that joined devices: `offset_error` (n, b) is what one standard error of each
    offset does to the values. An offset counts as far as athlete and peers do not share it.
    """
    z = standardise(build)
    residual, own, leverage, spread = _residuals(build, value)
    n = value.size
    below, total, squares = np.empty((3, n))
    peers = np.empty((n, min(NEIGHBOURS, n - 1)), dtype=np.intp)
    peer_weights = np.empty(peers.shape)
    moved, moved_own = _moved(build, offset_error)
    apart = np.zeros(n)
    for first in range(0, n, CHUNK):
        rows = np.arange(first, min(first + CHUNK, n))
        weights = np.exp(-0.5 * squared_distances(z[rows], z) / BANDWIDTH**2)
        weights[np.arange(rows.size), rows] = 0.0
        lower = (residual[None] < own[rows][:, None]) + 0.5 * (residual[None] == own[rows][:, None])
        below[rows] = (weights * lower).sum(axis=1)
        total[rows], squares[rows] = weights.sum(axis=1), (weights**2).sum(axis=1)
        shared = weights @ moved / np.maximum(total[rows], TINY)[:, None]
        apart[rows] = ((moved_own[rows] - shared) ** 2).sum(axis=1)
        peers[rows] = nearest(weights, peers.shape[1])
        peer_weights[rows] = np.take_along_axis(weights, peers[rows], axis=1)
    n_effective = total**2 / np.maximum(squares, TINY)
    share = below / np.maximum(total, TINY)
    extra = apart if noise is None else apart + noise**2
    shift = np.hypot(np.sqrt(leverage / (1.0 - leverage)), np.sqrt(extra) / spread)
    middle, low, high = interval(share, n_effective, own / spread, shift, level)
    distance = np.sqrt((z**2).sum(axis=1))
    return PoolStandings(100 * middle, 100 * low, 100 * high, n_effective, distance, peers, peer_weights)


def _moved(build: Floats, offset_error: Floats | None) -> tuple[Floats, Floats]:
    """Return how far each offset's error moves residuals, even ones and those leaving the athlete out, (n, b)."""
    if offset_error is None or not offset_error.shape[1]:
        return np.zeros((len(build), 0)), np.zeros((len(build), 0))
    pairs = [_residuals(build, column)[:2] for column in offset_error.T]
    return np.column_stack([even for even, _ in pairs]), np.column_stack([own for _, own in pairs])


def standardise(build: Floats) -> Floats:
    """Return the builds (n, k) turned and scaled so that Euclidean distance is Mahalanobis distance.

    Mahalanobis PC 1936, Proc Natl Inst Sci India 2:49-55. Directions without spread count nothing.
    """
    centred = np.where(_separable(build), build - build.mean(axis=0), 0.0)
    values, vectors = np.linalg.eigh(np.cov(centred, rowvar=False))
    scale = np.where(values > 1e-12 * values.max(), 1.0 / np.sqrt(np.maximum(values, TINY)), 0.0)
    turned: Floats = centred @ vectors * scale
    return turned


def _separable(build: Floats) -> NDArray[np.bool_]:
    """Return in which columns of the builds (n, k) the athletes differ by more than rounding."""
    return np.asarray(build.std(axis=0) > ROUNDING * np.abs(build).max(axis=0))


def squared_distances(left: Floats, right: Floats) -> Floats:
    """Return squared Euclidean distances (left, right)."""
    squared = (left**2).sum(axis=1)[:, None] + (right**2).sum(axis=1)[None] - 2.0 * left @ right.T
    return np.asarray(np.maximum(squared, 0.0), dtype=float)


def nearest(weights: Floats, count: int) -> NDArray[np.intp]:
    """Return the columns of the largest weights in each row, largest first.

    `weights` (n, m); the result (n, count), `count` at most m.
    """
    top = np.sort(np.argpartition(-weights, count - 1, axis=1)[:, :count], axis=1)
    order = np.argsort(-np.take_along_axis(weights, top, axis=1), axis=1, kind="stable")
    return np.take_along_axis(top, order, axis=1)


def interval(
    share: Floats, n: Floats, z: Floats, shift: Floats, level: float
) -> tuple[Floats, Floats, Floats]:
    """Return centre, low and high of a share of n (effective) peers.

    Jeffreys' interval (Brown, Cai, DasGupta 2001, Stat Sci 16:101-133) widened on the logit scale: the
    athlete's standardised residual `z` is uncertain by `shift` standard deviations because the mean is
    estimated. A shift of 0 leaves Jeffreys' interval.

    >>> middle, low, high = interval(
    ...     np.array([27 / 38]), np.array([38.0]), np.zeros(1), np.zeros(1), 0.90)
    >>> [round(float(100 * x[0])) for x in (middle, low, high)]
    [71, 58, 82]
    """
    from scipy.stats import beta  # here: commands that fit nothing do not wait for it

    successes = share * n + 0.5
    failures = (1.0 - share) * n + 0.5
    middle = successes / (successes + failures)
    tail = (1.0 - level) / 2.0
    ends = beta.ppf(tail, successes, failures), beta.isf(tail, successes, failures)
    slope = norm.pdf(z) / (middle * (1.0 - middle))
    extra = norm.isf(tail) * shift * slope
    centre = logit(middle)
    low = expit(centre - np.hypot(centre - logit(ends[0]), extra))
    high = expit(centre + np.hypot(logit(ends[1]) - centre, extra))
    return middle, np.asarray(low, dtype=float), np.asarray(high, dtype=float)


def _residuals(build: Floats, value: Floats) -> tuple[Floats, Floats, Floats, float]:
    """Return residuals of equal spread, residuals leaving the athlete out, leverages and the spread.

    The mean holds age, height, mass and the squares of age and mass, as far as the builds tell them apart.
    """
    from statsmodels.regression.linear_model import OLS  # here: commands that fit nothing do not wait for it

    scale, estimate = build.std(axis=0), _separable(build)
    scaled = np.where(estimate, (build - build.mean(axis=0)) / np.where(estimate, scale, 1.0), 0.0)
    age, height, mass = scaled.T
    design = np.column_stack([np.ones_like(age), age, height, mass, age**2, mass**2])
    fit = OLS(value, design[:, independent(design)]).fit()
    leverage = np.clip(fit.get_influence().hat_matrix_diag, 0.0, MOST_LEVERAGE)
    # Rounding of a perfect fit is no difference between athletes.
    left = np.where(np.abs(fit.resid) < ROUNDING * np.abs(value).max(), 0.0, fit.resid)
    even = np.asarray(left / np.sqrt(1.0 - leverage), dtype=float)
    own = np.asarray(left / (1.0 - leverage), dtype=float)
    return even, own, np.asarray(leverage, dtype=float), max(float(np.sqrt(fit.scale)), TINY)
