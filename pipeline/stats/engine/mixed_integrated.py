"""The mixed model averaged over what the variances may be, for camps too small to pin them down.

A fit that plugs in one estimate of the variances calls its intervals too short when there are few groups.
Here the factor L is drawn by importance sampling around the penalised optimum and each draw is weighted by
its restricted likelihood (flat prior on L); the residual variance is integrated in closed form. The draws
come from fixed quasi-random points, so the same data give the same result.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed import MixedFit, fit_many, fit_sums, penalised_deviance
from latewood.pipeline.stats.engine.mixed_sums import Floats, GroupSums
from latewood.pipeline.stats.engine.small_blocks import effect_root, inverse_root, lower, triangle, unit_plus

SMALL = 40  # groups; below this the plugged-in fit was measured to be too sure
DRAWS = 128  # a power of two keeps the quasi-random points balanced
TAILS = 5.0  # degrees of freedom of the proposal
STEP = 1e-4
WIDEST = 3.0  # SD of the proposal, on the log scale, where the criterion is flat


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFits:
    """K fits at fixed factors: K draws, G groups, p fixed and q random effects, in the units of X and Z."""

    L: Floats  # (K, q, q)
    beta: Floats  # (K, p)
    beta_root: Floats  # (K, p, p); times its transpose it is the covariance of beta
    variance: Floats  # (K,) residual, posterior mean
    pull_root: Floats  # (K, G, q, q); see `MixedFit`
    effects: Floats  # (K, G, q)


@dataclass(frozen=True, slots=True, kw_only=True)
class IntegratedFit:
    """A weighted set of fits; `mode` is the penalised optimum, `effective` the effective number of draws."""

    mode: MixedFit
    draws: DrawnFits
    weights: Floats
    effective: float

    def predict_many(
        self, groups: Sequence[Hashable], x: ArrayLike, z: ArrayLike, *, new_session: bool = False
    ) -> tuple[Floats, Floats]:
        """Means and variances (k,), as `MixedFit.predict_many`, averaged over the variances."""
        d, sums = self.draws, self.mode.sums
        xs, zs = np.asarray(x, dtype=float), np.asarray(z, dtype=float)
        rows = np.array([sums.index.get(g, -1) for g in groups], dtype=int)
        known = rows >= 0
        root = np.where(known[None, :, None, None], d.pull_root[:, rows], d.L[:, None])
        half = np.einsum("ka,Dkab->Dkb", zs, root)
        weight = np.where(known[None, :, None], np.einsum("Dkb,Dkab->Dka", half, root), 0.0)
        left = xs - (weight[:, :, None] @ sums.zx_original(rows))[:, :, 0]
        own = np.where(known, np.einsum("ka,Dka->Dk", zs, d.effects[:, rows]), 0.0)
        means = d.beta @ xs.T + own
        spread = (half**2).sum(axis=2) + (1.0 if new_session else 0.0)
        variances = ((left @ d.beta_root) ** 2).sum(axis=2) + d.variance[:, None] * spread
        mean = self.weights @ means
        return mean, self.weights @ (variances + (means - mean) ** 2)

    def predict(
        self, group: Hashable, x: ArrayLike, z: ArrayLike, *, new_session: bool = False
    ) -> tuple[float, float]:
        """Mean and variance of x b + z u of one group; see `predict_many`.

        `x` (p,), `z` (q,).
        """
        xs, zs = np.atleast_2d(x), np.atleast_2d(z)
        mean, variance = self.predict_many([group], xs, zs, new_session=new_session)
        return float(mean[0]), float(variance[0])


def fit_integrated(sums: GroupSums, *, draws: int = DRAWS, mode: MixedFit | None = None) -> IntegratedFit:
    """The fit of `sums` averaged over the variances; `draws` is best a power of two, `mode` the fit if known.

    Raises NotComputedError where columns of X depend on each other.
    """
    mode = mode or fit_sums(sums)
    scale = sums.z_scale()
    scaled = sums.rescaled(scale)
    q = len(scale)
    centre = _to_log(mode.L * scale[:, None])
    steps, density = _proposal(draws, len(centre))
    root = _proposal_root(scaled, centre, q)
    factors = _factors(centre + steps @ root.T, q)
    drawn, deviance = _profile_all(sums, scaled, scale, factors)
    diagonal = np.einsum("Daa->Da", factors)
    log_weight = -0.5 * deviance + np.log(diagonal).sum(axis=1) - density
    weights = np.exp(log_weight - log_weight.max())
    weights /= weights.sum()
    return IntegratedFit(mode=mode, draws=drawn, weights=weights, effective=float(1.0 / (weights**2).sum()))


@cache
def _proposal(draws: int, width: int) -> tuple[Floats, Floats]:
    """Points (draws, width) of a multivariate t and its log density up to a constant."""
    points = stats.qmc.Sobol(width + 1, scramble=False).random(2 * draws)[draws:] + 0.25 / draws
    stretch = np.sqrt(TAILS / stats.chi2.ppf(points[:, -1], TAILS))
    steps = stats.norm.ppf(points[:, :-1]) * stretch[:, None]
    density = -0.5 * (TAILS + width) * np.log1p((steps**2).sum(axis=1) / TAILS)
    return steps, density


def _profile_all(
    sums: GroupSums, scaled: GroupSums, scale: Floats, factors: Floats
) -> tuple[DrawnFits, Floats]:
    """The fits at all factors (K, q, q) at once, and their REML deviances (K,) up to a constant."""
    draws, p = len(factors), sums.n_fixed
    root = scaled.root @ factors[:, None]
    inverse, log_det = unit_plus(root)
    cross = sums.within + (inverse.reshape(draws, -1) @ sums.outer).reshape(draws, p + 1, p + 1)
    x_root, log_fixed = inverse_root(cross[:, :p, :p])
    beta = np.einsum("Dps,Drs,Dr->Dp", x_root, x_root, cross[:, :p, p])
    rest = np.maximum(cross[:, p, p] - np.einsum("Dp,Dp->D", cross[:, :p, p], beta), sums.floor)
    free = sums.n_rows - p
    deviance = log_det.sum(axis=1) + log_fixed + free * np.log(rest)
    back = np.linalg.inv(sums.basis)
    # mean of a scaled inverse chi-square around its estimate
    variance = rest / max(free - 2.0, 1.0)
    pull_root = effect_root(factors[:, None], root) / scale[:, None]
    noise = sums.zy - np.einsum("gqp,Dp->Dgq", sums.zx, beta)
    drawn = DrawnFits(
        L=factors / scale[:, None],
        beta=sums.offset + beta @ back.T,
        beta_root=np.sqrt(variance)[:, None, None] * (back @ x_root),
        variance=variance,
        pull_root=pull_root,
        effects=(pull_root @ (pull_root.swapaxes(2, 3) @ noise[..., None]))[..., 0],
    )
    return drawn, np.asarray(deviance, dtype=float)


def fit_many_for_size(models: Sequence[GroupSums], below: int = SMALL) -> list[MixedFit | IntegratedFit]:
    """The penalised fit of each model, averaged over the variances where there are fewer than `below` groups.

    The optima of all models are searched together. Raises NotComputedError where columns of X depend on each other.
    """
    fits = zip(models, fit_many(models), strict=True)
    return [fit_integrated(s, mode=fit) if len(s.index) < below else fit for s, fit in fits]


def plugged_in(fit: MixedFit | IntegratedFit) -> MixedFit:
    """The fit at the penalised optimum, whichever kind `fit` is."""
    return fit.mode if isinstance(fit, IntegratedFit) else fit


def _to_log(factor: Floats) -> Floats:
    """The lower triangle with the logarithm of its diagonal, row by row."""
    logged = factor.copy()
    np.fill_diagonal(logged, np.log(np.maximum(np.diag(factor), 1e-6)))
    return np.asarray(logged[triangle(len(factor))])


def _factors(points: Floats, q: int) -> Floats:
    """The factors (K, q, q) of points (K, r)."""
    factors = np.zeros((len(points), q, q))
    rows, columns = triangle(q)
    factors[:, rows, columns] = points
    ends = np.arange(q)
    factors[:, ends, ends] = np.exp(np.clip(factors[:, ends, ends], -13.0, 9.0))
    return factors


def _from_log(parameters: Floats, q: int) -> Floats:
    factor = lower(parameters, q)
    np.fill_diagonal(factor, np.exp(np.clip(np.diag(factor), -13.0, 9.0)))
    return np.asarray(factor[triangle(q)])


def _proposal_root(scaled: GroupSums, centre: Floats, q: int) -> Floats:
    """A root (r, r) of the covariance of the proposal, from the curvature at the optimum."""

    def slope(parameters: Floats) -> Floats:
        plain = _from_log(parameters, q)
        gradient = penalised_deviance(scaled, lower(plain, q), True)[1]
        chain = np.eye(q) * lower(plain, q) + (1.0 - np.eye(q))
        return 0.5 * gradient * chain[triangle(q)]

    width = len(centre)
    step = STEP * np.eye(width)
    curvature = np.array([(slope(centre + e) - slope(centre - e)) / (2.0 * STEP) for e in step])
    values, vectors = np.linalg.eigh(0.5 * (curvature + curvature.T))
    spread = 1.0 / np.sqrt(np.maximum(values, WIDEST**-2))
    return np.asarray(vectors * spread)
