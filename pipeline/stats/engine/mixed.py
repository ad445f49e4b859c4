"""Random intercept and slope per group by penalised REML, from sums per group.

The model of group i is y = X b + Z u + e with u ~ N(0, s2 L L') and e ~ N(0, s2), Z = (1) or (1, f(t)).
Only sums per group enter the fit, so its cost does not grow with the number of sessions.

Criterion: Bates, Maechler, Bolker, Walker 2015, J Stat Softw 67(1), the profiled REML deviance.
Penalty -2 log|L|, which keeps a variance off zero where a small camp would set it there: Chung,
Rabe-Hesketh, Dorie, Gelman, Liu 2013, Psychometrika 78. It is on unless `penalised=False`.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize

from latewood.pipeline.stats.engine.mixed_search import penalised_optima
from latewood.pipeline.stats.engine.mixed_sums import Floats, GroupSums, group_sums
from latewood.pipeline.stats.engine.small_blocks import effect_root, inverse_root, lower, triangle, unit_plus

STARTS = ((1.0, 0.5), (0.2, 0.1))  # diagonal of L where the search begins, random effects scaled to size 1
BOUNDARY = 1e-3  # a scaled diagonal of L below this counts as zero


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """The criterion and what belongs to it at one L (basis of the sums, random effects scaled)."""

    deviance: float  # REML, without the penalty
    beta: Floats  # (p,)
    x_root: Floats  # (p, p); times its transpose: inverse of X'V^-1 X, relative to the residual variance
    variance: float  # residual
    pull_root: Floats  # (G, q, q); times its transpose it is L A^-1 L'
    gradient: Floats  # (q, q) of the deviance by L, lower triangle


@dataclass(frozen=True, slots=True, kw_only=True)
class Optimum:
    """The relative factor L (q, q), lower triangular, that the search ended on, random effects scaled."""

    factor: Floats
    converged: bool
    penalised: bool  # whether the criterion that was searched kept variances off zero


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedFit:
    """A fitted model. Shapes: p fixed effects, q random effects, G groups; units are those of y and X.

    `beta` (p,) and `beta_cov` (p, p) are the fixed effects and their covariance, the square of
    `beta_root` (p, p); `sigma` the residual SD; `L` (q, q) the relative factor, so that the random effects
    have covariance sigma**2 L L' (`random_cov`);
    `criterion` the REML deviance without the penalty (comparable with lme4); `boundary` says that a random
    effect was set to (nearly) zero; `index` finds the row of a group in `effects` (G, q), its BLUPs.
    """

    beta: Floats
    beta_root: Floats
    sigma: float
    L: Floats
    criterion: float
    converged: bool
    boundary: bool
    penalised: bool
    n_rows: int
    effects: Floats
    index: Mapping[Hashable, int]
    sums: GroupSums = field(repr=False)
    pull_root: Floats = field(repr=False)  # (G, q, q) root of the covariance of a group's effects / sigma**2

    @property
    def n_groups(self) -> int:
        """Number of groups in the fit."""
        return len(self.index)

    @property
    def beta_cov(self) -> Floats:
        """Covariance of the fixed effects, (p, p)."""
        return np.asarray(self.beta_root @ self.beta_root.T)

    @property
    def pull(self) -> Floats:
        """Covariance of each group's effects given its data, over sigma**2, (G, q, q)."""
        return _squares(self.pull_root)

    def pull_of(self, group: Hashable) -> Floats:
        """The same of one group that is in the fit, (q, q): a program's are too many to make for each of its stays."""
        row = self.index[group]
        return np.asarray(_squares(self.pull_root[row : row + 1])[0])

    def fixed_variance(self, x: ArrayLike) -> Floats:
        """Variance (...) of x b for rows x (..., p), a sum of squares: never below zero."""
        return np.asarray(((np.asarray(x, dtype=float) @ self.beta_root) ** 2).sum(axis=-1))

    @property
    def random_cov(self) -> Floats:
        """Covariance of the random effects between groups, (q, q)."""
        return self.sigma**2 * self.L @ self.L.T

    def blup(self, group: Hashable) -> Floats:
        """Random effects (q,) of one group; zeros for a group that is not in the fit."""
        row = self.index.get(group)
        return np.zeros(self.L.shape[0]) if row is None else self.effects[row]

    def predict(
        self, group: Hashable, x: ArrayLike, z: ArrayLike, *, new_session: bool = False
    ) -> tuple[float, float]:
        """Mean and variance of x b + z u of one group; see `predict_many`.

        `x` (p,), `z` (q,).
        """
        mean, variance = self.predict_many(
            [group], np.atleast_2d(x), np.atleast_2d(z), new_session=new_session
        )
        return float(mean[0]), float(variance[0])

    def predict_many(
        self, groups: Sequence[Hashable], x: ArrayLike, z: ArrayLike, *, new_session: bool = False
    ) -> tuple[Floats, Floats]:
        """Means and variances (k,) of x b + z u for k groups with x (k, p) and z (k, q).

        The variance holds the uncertainty of the fixed effects and of the group's own effects given its
        data; `new_session` adds the noise of one more session. A change is a difference of rows: give
        x = x1 - x0 and z = z1 - z0. A group that is not in the fit is predicted as a new one.
        """
        xs, zs = np.asarray(x, dtype=float), np.asarray(z, dtype=float)
        rows = np.array([self.index.get(g, -1) for g in groups], dtype=int)
        known = rows >= 0
        root = np.where(known[:, None, None], self.pull_root[rows], self.L)
        half = np.einsum("ka,kab->kb", zs, root)
        weight = np.where(known[:, None], np.einsum("kb,kab->ka", half, root), 0.0)
        left = xs - np.einsum("kb,kbp->kp", weight, self.sums.zx_original(rows))
        mean = xs @ self.beta + np.where(known, np.einsum("ka,ka->k", zs, self.effects[rows]), 0.0)
        own = self.sigma**2 * ((half**2).sum(axis=1) + (1.0 if new_session else 0.0))
        return mean, self.fixed_variance(left) + own

    def robust_cov(self, owner: Mapping[Hashable, Hashable] | None = None) -> Floats:
        """Covariance of `beta` (p, p) from the spread of the groups' own scores, no small-sample factor.

        `owner` names whom each group belongs to; groups of one owner count as one.
        """
        half = self.influence(owner)[1]
        return np.asarray(half @ half.T)

    def influence(self, owner: Mapping[Hashable, Hashable] | None = None) -> tuple[list[Hashable], Floats]:
        """The owners (or groups), and what each of them puts on `beta`, (p, owners)."""
        s = self.sums
        rotated = s.basis @ (self.beta - s.offset)
        noise_x = s.xy - np.einsum("gpr,r->gp", s.xx, rotated)
        noise_z = s.zy - np.einsum("gqp,p->gq", s.zx, rotated)
        score = noise_x - np.einsum("gqp,gqr,gr->gp", s.zx, self.pull, noise_z)
        bread = self.beta_cov / self.sigma**2 @ s.basis.T
        names = list(self.index)
        if owner is not None:
            codes, labels = pd.factorize(np.array([owner[g] for g in names], dtype=object))
            score = np.column_stack([np.bincount(codes, column) for column in score.T])
            names = list(labels)
        return names, np.asarray(bread @ score.T)


def _squares(roots: Floats) -> Floats:
    """Each root times its transpose, (k, q, q)."""
    return np.asarray(roots @ roots.swapaxes(1, 2))


def fit_random_slope(
    groups: Sequence[Hashable] | NDArray[Any],
    y: ArrayLike,
    X: ArrayLike,
    Z: ArrayLike,
    *,
    penalised: bool = True,
) -> MixedFit:
    """The fit of y (N,) on fixed X (N, p) and random Z (N, q) per group, by REML.

    Z is usually (1) or (1, f(t)); its columns need not be in X. Raises ValueError where the columns of X
    depend on each other, where shapes differ, or where there are not more rows than fixed effects.
    """
    return fit_sums(group_sums(groups, y, X, Z), penalised=penalised)


def fit_sums(sums: GroupSums, *, penalised: bool = True) -> MixedFit:
    """The fit from sums per group; see `fit_random_slope`.

    Raises NotComputedError where columns of X depend on each other.
    """
    return fit_many([sums], penalised=penalised)[0]


def fit_many(models: Sequence[GroupSums], *, penalised: bool = True) -> list[MixedFit]:
    """The fits of several models, each as if it were alone; searching them together costs less.

    Raises NotComputedError where columns of X depend on each other.
    """
    scales = [sums.z_scale() for sums in models]
    scaled = [sums.rescaled(scale) for sums, scale in zip(models, scales, strict=True)]
    pairs = [k for k, scale in enumerate(scales) if penalised and len(scale) == 2]
    optima = penalised_optima([scaled[k] for k in pairs], _starts(2)[0]) if pairs else []
    known = dict(zip(pairs, optima, strict=True))
    fits = []
    for k, (sums, scale) in enumerate(zip(models, scales, strict=True)):
        factor, converged = _settled_or_searched(scaled[k], penalised, known.get(k))
        optimum = Optimum(factor=factor, converged=converged, penalised=penalised)
        fits.append(assemble(sums, scale, optimum, profile_at(scaled[k], factor)))
    return fits


def _settled_or_searched(sums: GroupSums, penalised: bool, optimum: Floats | None) -> tuple[Floats, bool]:
    """The factor that Newton's method found away from zero, else that of a bounded search from two starts."""
    if optimum is not None and min(optimum[0], optimum[2]) > BOUNDARY:
        return lower(optimum, 2), True
    return _search(sums, penalised)


def coefficients_at(sums: GroupSums, L: Floats) -> Floats:
    """The fixed effects (p,) of these sums by generalised least squares with the factor of another fit.

    Raises NotComputedError where columns of X depend on each other.
    """
    scale = sums.z_scale()
    profile = profile_at(sums.rescaled(scale), L * scale[:, None])
    return np.asarray(sums.offset + np.linalg.solve(sums.basis, profile.beta), dtype=float)


def assemble(sums: GroupSums, scale: Floats, optimum: Optimum, profile: Profile) -> MixedFit:
    """The fit at an optimum, turned back to the units of X and Z; `scale` (q,) is what Z was divided by."""
    back = np.linalg.inv(sums.basis)
    root = profile.pull_root / scale[:, None]
    noise = sums.zy - np.einsum("gqp,p->gq", sums.zx, profile.beta)
    return MixedFit(
        beta=sums.offset + back @ profile.beta,
        beta_root=np.sqrt(profile.variance) * back @ profile.x_root,
        sigma=float(np.sqrt(profile.variance)),
        L=optimum.factor / scale[:, None],
        criterion=profile.deviance,
        converged=optimum.converged,
        boundary=bool(np.any(np.diag(optimum.factor) < BOUNDARY)),
        penalised=optimum.penalised,
        n_rows=sums.n_rows,
        effects=np.einsum("gab,gcb,gc->ga", root, root, noise),
        index=sums.index,
        sums=sums,
        pull_root=root,
    )


def profile_at(sums: GroupSums, factor: Floats) -> Profile:
    """The profiled REML deviance and its gradient at one relative factor L (q, q).

    Raises NotComputedError where columns of X depend on each other.
    """
    p, q = sums.n_fixed, factor.shape[0]
    root = sums.root @ factor
    inverse, log_det = unit_plus(root)
    cross = sums.within + (inverse.reshape(-1) @ sums.outer).reshape(p + 1, p + 1)
    x_root, log_fixed = inverse_root(cross[:p, :p])
    beta = x_root @ (x_root.T @ cross[:p, p])
    rest = max(float(cross[p, p] - cross[:p, p] @ beta), sums.floor)
    free = sums.n_rows - p
    deviance = (
        float(log_det.sum())
        + float(log_fixed)
        + 2.0 * float(np.linalg.slogdet(sums.basis)[1])
        + free * (1.0 + float(np.log(2.0 * np.pi * rest / free)))
    )
    direction = np.append(-beta, 1.0)
    by_cross = free / rest * np.outer(direction, direction)
    by_cross[:p, :p] += x_root @ x_root.T
    by_inverse = (sums.outer @ by_cross.reshape(-1)).reshape(-1, q, q)
    by_root = (inverse - inverse @ by_inverse @ inverse) @ root
    gradient = 2.0 * np.tril(np.einsum("gba,gbc->ac", sums.root, by_root))
    return Profile(
        deviance=deviance, beta=beta, x_root=x_root, variance=rest / free, pull_root=effect_root(factor, root),
        gradient=gradient,
    )  # fmt: skip


def penalised_deviance(sums: GroupSums, factor: Floats, penalised: bool) -> tuple[float, Floats]:
    """The criterion that is minimised and its gradient by the lower triangle of L, row by row.

    `factor` (q, q) lower triangular; the gradient (q(q+1)/2,). Raises NotComputedError where columns of X
    depend on each other.
    """
    profile = profile_at(sums, factor)
    value, gradient = profile.deviance, profile.gradient.copy()
    if penalised:
        diagonal = np.diag(factor)
        value -= 2.0 * float(np.log(diagonal).sum())
        gradient[np.diag_indices_from(gradient)] -= 2.0 / diagonal
    return value, gradient[triangle(factor.shape[0])]


def _search(sums: GroupSums, penalised: bool) -> tuple[Floats, bool]:
    q = sums.zz.shape[1]
    diagonal = [i == j for i in range(q) for j in range(i + 1)]
    # without the penalty the criterion is even in each column of L, so its slope at zero is nil even where zero is
    # a ridge: a search bounded there ends on it, hence the columns may turn over and are turned back at the end
    bounds = [((1e-6 if penalised and d else -1e4), 1e4) for d in diagonal]

    def objective(parameters: Floats) -> tuple[float, Floats]:
        return penalised_deviance(sums, lower(parameters, q), penalised)

    result = [_descend(objective, start, bounds) for start in _starts(q)[:1]]
    if not (result[0][2] and np.all(np.abs(np.diag(lower(result[0][1], q))) > BOUNDARY)):
        # a second start is for criteria that are flat towards zero
        result += [_descend(objective, start, bounds) for start in _starts(q)[1:]]
    _, parameters, settled = min(result, key=lambda f: f[0])
    factor = lower(parameters, q)
    return factor * np.where(np.diag(factor) < 0.0, -1.0, 1.0), settled


def _starts(q: int) -> list[Floats]:
    return [np.diag([high] + [low] * (q - 1))[triangle(q)] for high, low in STARTS]


def _descend(
    objective: Callable[[Floats], tuple[float, Floats]], start: Floats, bounds: list[tuple[float, float]]
) -> tuple[float, Floats, bool]:
    result = minimize(
        objective,
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"ftol": 1e-13, "gtol": 1e-6},
    )
    value, at = float(result.fun), np.asarray(result.x, dtype=float)
    return value, at, _settled(np.asarray(result.jac), at, bounds, value)


def _settled(gradient: Floats, at: Floats, bounds: list[tuple[float, float]], value: float) -> bool:
    """Whether the slope of the criterion is flat, apart from parameters that stand at their bound."""
    low = np.array([b[0] for b in bounds])
    free = ~((at <= low + 1e-12) & (gradient > 0.0))
    return bool(np.all(np.abs(gradient[free]) < 1e-3 * max(1.0, abs(value) * 1e-3)))
