"""The standard error of a least-squares combination where few groups carry it, and its degrees of freedom.

Errors may be correlated and of unequal size within a group in any way. The usual cluster-robust error is too small
where few groups, or few that differ from the rest, carry the estimate. Here each group's residuals are divided by
what the fit took from them (CR2), which is exact where errors are independent and alike, and the degrees of
freedom are those of the chi-square with the first two moments of that variance (Satterthwaite).

Bell & McCaffrey 2002, Survey Methodology 28:169-181; Pustejovsky & Tipton 2018, J Bus Econ Stat 36:672-683, whose
theorem 2 lets levels and slopes of each group be taken out of the columns beforehand; Imbens & Kolesar 2016,
Rev Econ Stat 98:701-712.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ALONE = 1e-8  # a direction of which a group keeps less than this share of its residuals is its own alone


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupError:
    """Standard error of a combination of coefficients, and the degrees of freedom of its t."""

    standard_error: float
    degrees: float


def group_error(x: Floats, residual: Floats, codes: Ints, weights: Floats) -> GroupError:
    """CR2 error of `weights` (p,) times the least-squares coefficients on `x` (N, p), full rank.

    `residual` (N,) is what that fit leaves; `codes` (N,) number the groups 0 to G-1.
    """
    basis, root = np.linalg.qr(x)
    along = np.linalg.solve(root.T, weights)  # the combination is `along` times the coefficients on the basis
    groups = int(codes.max()) + 1
    products = np.zeros((groups, *2 * root.shape[:1]))
    scores = np.zeros((groups, len(root)))
    np.add.at(products, codes, basis[:, :, None] * basis[:, None, :])
    np.add.at(scores, codes, basis * residual[:, None])
    share, turned = np.linalg.eigh(products)  # of the fit in each group's directions
    kept = 1.0 - share
    stretch = np.where(kept > ALONE, 1.0 / np.sqrt(np.where(kept > ALONE, kept, 1.0)), 0.0)
    ahead = np.einsum("gij,gj,gkj,k->gi", turned, stretch, turned, along)
    size = np.einsum("gi,gij,gj->g", ahead, products, ahead)
    shared = np.einsum("gij,gj->gi", products, ahead)
    variance = float(np.sum(np.einsum("gi,gi->g", ahead, scores) ** 2))
    overlap = shared.T @ shared
    first = float(size.sum() - np.trace(overlap))
    second = float(np.sum(size**2) - 2.0 * np.sum(size * np.sum(shared**2, axis=1)) + np.sum(overlap**2))
    return GroupError(
        standard_error=float(np.sqrt(variance)), degrees=first**2 / second if second > 0 else 0.0
    )
