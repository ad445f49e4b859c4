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

from pipeline.stats.mixed_sums import Floats, GroupSums


@dataclass(frozen=True, slots=True, kw_only=True)
class PairSums:
    """Entries of the blocks of B models with q = 2 and the same p: at most G groups, w = (p+1)**2."""

    zz: Floats  # (3, B, 1, G) of Z'Z: 00, 01, 11
    outer: Floats  # (B, 3 G, w) of the products of [Z'X | Z'y]: 00, 01 and 10 together, 11
    total: Floats  # (B, 1, w)
    free: Floats  # (B, 1) rows less fixed effects
    basis: Floats  # (B, 1) log determinant of the basis
    floor: Floats  # (B, 1)

    def only(self, kept: NDArray[np.intp]) -> PairSums:
        """Some of the models."""
        return PairSums(
            zz=self.zz[:, kept], outer=self.outer[kept], total=self.total[kept], free=self.free[kept],
            basis=self.basis[kept], floor=self.floor[kept],
        )  # fmt: skip


def pair_sums(models: Sequence[GroupSums]) -> PairSums:
    """The entries of these models, which have two random effects and equally many fixed ones."""
    groups, size = max(len(m.n) for m in models), models[0].total.size
    zz, outer = np.zeros((3, len(models), 1, groups)), np.zeros((len(models), 3, groups, size))
    for at, m in enumerate(models):
        n = len(m.n)
        zz[:, at, 0, :n] = m.zz[:, 0, 0], m.zz[:, 0, 1], m.zz[:, 1, 1]
        blocks = m.outer.reshape(n, 2, 2, size)
        outer[at, :, :n] = blocks[:, 0, 0], blocks[:, 0, 1] + blocks[:, 1, 0], blocks[:, 1, 1]
    return PairSums(
        zz=zz,
        outer=outer.reshape(len(models), 3 * groups, size),
        total=np.array([m.total.reshape(1, size) for m in models]),
        free=np.array([[m.n_rows - m.n_fixed] for m in models], dtype=float),
        basis=np.array([[np.linalg.slogdet(m.basis)[1]] for m in models]),
        floor=np.array([[m.floor] for m in models]),
    )


def pair_deviance(sums: PairSums, factor: Floats) -> tuple[Floats, Floats]:
    """The REML deviance (B, K) and its gradient (B, K, 3) at K lower triangles L of each model, row by row."""
    l1, l2, l3 = (factor[:, :, k, None] for k in range(3))
    z00, z01, z11 = sums.zz
    m00 = 1.0 + l1 * l1 * z00 + 2.0 * l1 * l2 * z01 + l2 * l2 * z11
    m01 = l3 * (l1 * z01 + l2 * z11)
    m11 = 1.0 + l3 * l3 * z11
    det = m00 * m11 - m01 * m01
    i00, i01, i11 = m11 / det, -m01 / det, m00 / det
    p00, p01 = l1 * l1 * i00, l1 * (l2 * i00 + l3 * i01)
    p11 = l2 * l2 * i00 + 2.0 * l2 * l3 * i01 + l3 * l3 * i11
    fixed, by_cross = _fixed_part(sums, np.concatenate([p00, p01, p11], axis=-1))
    by_pull = by_cross @ sums.outer.swapaxes(-1, -2)
    r, s, t = np.split(by_pull, 3, axis=-1)
    s = 0.5 * s
    k00, k01 = 1.0 - (z00 * p00 + z01 * p01), -(z00 * p01 + z01 * p11)
    k10, k11 = -(z01 * p00 + z11 * p01), 1.0 - (z01 * p01 + z11 * p11)
    t01, t11 = z01 - (r * k10 + s * k11), z11 - (s * k10 + t * k11)
    c00 = (k00 * (z00 - (r * k00 + s * k01)) + k01 * (z01 - (s * k00 + t * k01))).sum(axis=-1)
    c01, c11 = (k00 * t01 + k01 * t11).sum(axis=-1), (k10 * t01 + k11 * t11).sum(axis=-1)
    l1, l2, l3 = (factor[:, :, k] for k in range(3))
    gradient = 2.0 * np.stack([c00 * l1 + c01 * l2, c01 * l1 + c11 * l2, c11 * l3], axis=-1)
    return fixed + np.log(det).sum(axis=-1), gradient


def _fixed_part(sums: PairSums, pull: Floats) -> tuple[Floats, Floats]:
    """The deviance (B, K) without the groups' own determinants, and its slope (B, K, w) by the products of X and y."""
    models, points, size = (*pull.shape[:2], sums.total.shape[-1])
    width = int(np.sqrt(size))
    cross = (sums.total - pull @ sums.outer).reshape(models, points, width, width)
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
