"""The criterion of mixed models with two random effects in closed form, for many models at once.

`mixed.profile_at` says the same for any number of random effects and gives all that belongs to a fit; it is
asked once, at the optimum. A search asks often, and there the overhead of each product of 2 x 2 blocks costs more
than its arithmetic. Here each entry of the blocks is one array over models, points and groups. Models with
fewer groups are filled up with groups without rows, which add nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.mixed_sums import Floats, GroupSums


@dataclass(frozen=True, slots=True, kw_only=True)
class PairSums:
    """Entries of the blocks of B models with q = 2 and the same p: at most G groups, w = (p+1)**2."""

    root: Floats  # (3, B, 1, G) of T: 00, 01, 11
    outer: Floats  # (B, 3 G, w) of the products of Q'[X | y]: 00, 01 and 10 together, 11
    within: Floats  # (B, 1, w)
    free: Floats  # (B, 1) rows less fixed effects
    basis: Floats  # (B, 1) log determinant of the basis
    floor: Floats  # (B, 1)

    def only(self, kept: NDArray[np.intp]) -> PairSums:
        """Some of the models.

        `kept` (m,), positions of those models.
        """
        return PairSums(
            root=self.root[:, kept], outer=self.outer[kept], within=self.within[kept], free=self.free[kept],
            basis=self.basis[kept], floor=self.floor[kept],
        )  # fmt: skip


def pair_sums(models: Sequence[GroupSums]) -> PairSums:
    """The entries of these models, which have two random effects and equally many fixed ones."""
    groups, size = max(len(m.n) for m in models), models[0].within.size
    root, outer = np.zeros((3, len(models), 1, groups)), np.zeros((len(models), 3, groups, size))
    for at, m in enumerate(models):
        n = len(m.n)
        root[:, at, 0, :n] = m.root[:, 0, 0], m.root[:, 0, 1], m.root[:, 1, 1]
        blocks = m.outer.reshape(n, 2, 2, size)
        outer[at, :, :n] = blocks[:, 0, 0], blocks[:, 0, 1] + blocks[:, 1, 0], blocks[:, 1, 1]
    return PairSums(
        root=root,
        outer=outer.reshape(len(models), 3 * groups, size),
        within=np.array([m.within.reshape(1, size) for m in models]),
        free=np.array([[m.n_rows - m.n_fixed] for m in models], dtype=float),
        basis=np.array([[np.linalg.slogdet(m.basis)[1]] for m in models]),
        floor=np.array([[m.floor] for m in models]),
    )


def pair_deviance(sums: PairSums, factor: Floats) -> tuple[Floats, Floats]:
    """The REML deviance (B, K) and its gradient (B, K, 3) at K lower triangles L of each model, row by row."""
    l1, l2, l3 = (factor[:, :, k, None] for k in range(3))
    t00, t01, t11 = sums.root
    r00, r01, r10, r11 = t00 * l1 + t01 * l2, t01 * l3, t11 * l2, t11 * l3
    m00, m01, m11 = 1.0 + r00 * r00 + r01 * r01, r00 * r10 + r01 * r11, 1.0 + r10 * r10 + r11 * r11
    det = m00 + r10 * r10 + r11 * r11 + (t00 * t11 * l1 * l3) ** 2
    h00, h01, h11 = m11 / det, -m01 / det, m00 / det
    fixed, by_cross = _fixed_part(sums, np.concatenate([h00, h01, h11], axis=-1))
    by_inverse = by_cross @ sums.outer.swapaxes(-1, -2)
    r, s, t = np.split(by_inverse, 3, axis=-1)
    s = 0.5 * s
    k00, k01 = h00 * r + h01 * s, h00 * s + h01 * t
    k10, k11 = h01 * r + h11 * s, h01 * s + h11 * t
    e00, e01, e11 = (
        h00 - (k00 * h00 + k01 * h01),
        h01 - (k00 * h01 + k01 * h11),
        h11 - (k10 * h01 + k11 * h11),
    )
    c00, c01 = (t00 * t00 * e00).sum(axis=-1), (t00 * (t01 * e00 + t11 * e01)).sum(axis=-1)
    c11 = (t01 * t01 * e00 + 2.0 * t01 * t11 * e01 + t11 * t11 * e11).sum(axis=-1)
    l1, l2, l3 = (factor[:, :, k] for k in range(3))
    gradient = 2.0 * np.stack([c00 * l1 + c01 * l2, c01 * l1 + c11 * l2, c11 * l3], axis=-1)
    return fixed + np.log(det).sum(axis=-1), gradient


def _fixed_part(sums: PairSums, inverse: Floats) -> tuple[Floats, Floats]:
    """The deviance (B, K) without the groups' own determinants, and its slope (B, K, w) by the products of X and y."""
    models, points, size = (*inverse.shape[:2], sums.within.shape[-1])
    width = int(np.sqrt(size))
    cross = (sums.within + inverse @ sums.outer).reshape(models, points, width, width)
    block, to_y = cross[..., :-1, :-1], cross[..., :-1, -1]
    x_inverse = np.linalg.inv(block)
    beta = (x_inverse @ to_y[..., None])[..., 0]
    rest = np.maximum(cross[..., -1, -1] - (to_y * beta).sum(axis=-1), sums.floor)
    deviance = (
        np.linalg.slogdet(block)[1]
        + 2.0 * sums.basis
        + sums.free * (1.0 + np.log(2.0 * np.pi * rest / sums.free))
    )
    direction = np.concatenate([-beta, np.ones_like(beta[..., :1])], axis=-1)
    by_cross = (sums.free / rest)[..., None, None] * direction[..., :, None] * direction[..., None, :]
    by_cross[..., :-1, :-1] += x_inverse
    return deviance, by_cross.reshape(models, points, size)
