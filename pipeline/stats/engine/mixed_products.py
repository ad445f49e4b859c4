"""Sums per group of a mixed model from cross products that were added up elsewhere, in a database for example."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np

from latewood.pipeline.errors import NotComputedError
from latewood.pipeline.stats.engine.mixed_sums import RANK_TOLERANCE, Floats, GroupSums, products_of_rows


def sums_of_products(labels: Sequence[Hashable], products: Floats, n_random: int) -> GroupSums:
    """Sums per group from the products (G, p+1, p+1) of the columns [X | y] of each group's rows.

    The first column of X is the constant, and the first `n_random` columns are the random effects too. Columns
    should be centred over all rows: products of numbers far from zero keep few digits of their differences.
    Raises NotComputedError where the columns of X depend on each other.
    """
    total = products.sum(axis=0)
    p, q = total.shape[0] - 1, n_random
    basis = _root(total[:p, :p])
    back = np.linalg.inv(basis)
    offset = back @ (back.T @ total[:p, p])
    # [X | y] times this is [X made orthonormal | y less its least-squares fit]
    turn = np.eye(p + 1)
    turn[:p, :p], turn[:p, p] = back, -offset
    turned = turn.T @ products @ turn
    left = products[:, :q] @ turn
    root, along = _along(products[:, :q, :q], left)
    return GroupSums(
        index={label: k for k, label in enumerate(labels)},
        n=products[:, 0, 0].copy(),
        zz=products[:, :q, :q],
        zx=left[:, :, :p],
        zy=left[:, :, p],
        xx=turned[:, :p, :p],
        xy=turned[:, :p, p],
        root=root,
        within=turned.sum(axis=0) - np.einsum("gai,gaj->ij", along, along),
        basis=basis,
        offset=offset,
        floor=1e-20 * float(total[p, p]) + 1e-200,
        outer=products_of_rows(along),
    )


def _along(zz: Floats, left: Floats) -> tuple[Floats, Floats]:
    """T (G, q, q) with Z'Z = T'T, and Q'[X | y] (G, q, p+1) of Z'[X | y]; see `GroupSums`."""
    q = zz.shape[1]
    root, rest = np.zeros_like(zz), np.concatenate([zz, left], axis=2)
    size = np.einsum("gaa->ga", zz)
    for k in range(q):
        estimate = rest[:, k, k] > RANK_TOLERANCE * size[:, k]
        length = np.sqrt(np.where(estimate, rest[:, k, k], 1.0))
        row = np.where(estimate[:, None], rest[:, k] / length[:, None], 0.0)
        rest = rest - row[:, :q, None] * row[:, None, :]
        rest[:, k] = row
        root[:, k, k:] = row[:, k:q]
    return root, rest[:, :, q:]


def _root(squares: Floats) -> Floats:
    """R of X = QR from X'X (p, p)."""
    size = np.sqrt(np.diag(squares))
    scaled = squares / (size[:, None] * size[None, :]) if np.all(size > 0.0) else np.zeros_like(squares)
    values = np.linalg.eigvalsh(scaled)
    if not values[0] > RANK_TOLERANCE:
        raise NotComputedError(
            "fixed effects: columns depend on each other; drop a column or ask for a simpler model"
        )
    return np.asarray(np.linalg.cholesky(squares).T)
