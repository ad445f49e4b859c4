"""Arithmetic of the small symmetric blocks that a mixed model has one of per group.

A block is I + R R' of a root R (..., q, q), never a matrix that happens to be positive: determinants are sums of
squares, and what is covered exactly by a random effect (sessions that fit a course without noise) stays positive
whatever the processor rounds.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.errors import NotComputedError

Floats = NDArray[np.float64]


def unit_plus(root: Floats) -> tuple[Floats, Floats]:
    """Inverses (..., q, q) and log determinants (...) of I + R R'; closed form up to q = 2."""
    q = root.shape[-1]
    block = np.eye(q) + root @ root.swapaxes(-1, -2)
    if q == 1:
        return 1.0 / block, np.log(block[..., 0, 0])
    if q > 2:
        return np.asarray(np.linalg.inv(block), dtype=float), np.asarray(
            np.linalg.slogdet(block)[1], dtype=float
        )
    det = _determinant(root)
    flipped = block[..., ::-1, ::-1] * np.array([[1.0, -1.0], [-1.0, 1.0]])
    return flipped / det[..., None, None], np.log(det)


def effect_root(factor: Floats, root: Floats) -> Floats:
    """W (..., q, q) so that W W' = L (I + R'R)^-1 L', with L = `factor` and R = `root`."""
    q = root.shape[-1]
    block = np.eye(q) + root.swapaxes(-1, -2) @ root
    if q == 2:
        first = np.sqrt(block[..., 0, 0])
        side = block[..., 0, 1] / first
        last = np.sqrt(_determinant(root)) / first
        upper = np.zeros_like(block)
        upper[..., 0, 0], upper[..., 1, 1] = 1.0 / first, 1.0 / last
        upper[..., 0, 1] = -side / (first * last)
    else:
        upper = np.linalg.inv(np.linalg.cholesky(block)).swapaxes(-1, -2)
    return np.asarray(factor @ upper)


def inverse_root(block: Floats) -> tuple[Floats, Floats]:
    """W (..., p, p) so that W W' is the inverse of each block, and the log determinants (...) of the blocks.

    Raises NotComputedError where a block is not positive.
    """
    try:
        half = np.linalg.cholesky(block)
    except np.linalg.LinAlgError as error:
        raise NotComputedError(
            "the sessions do not tell the terms of the model apart; more days or athletes would"
        ) from error
    ends = np.arange(block.shape[-1])
    back = np.linalg.inv(half).swapaxes(-1, -2)
    return np.asarray(back), np.asarray(2.0 * np.log(half[..., ends, ends]).sum(axis=-1))


def _determinant(root: Floats) -> Floats:
    """Determinants (...) of I + R R' for q = 2, as a sum of squares."""
    own = root[..., 0, 0] * root[..., 1, 1] - root[..., 0, 1] * root[..., 1, 0]
    return np.asarray(1.0 + (root**2).sum(axis=(-2, -1)) + own**2)


@cache
def triangle(q: int) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Indices of the lower triangle of a (q, q) matrix, row by row."""
    rows, columns = np.tril_indices(q)
    return rows, columns


def lower(parameters: Floats, q: int) -> Floats:
    """The lower triangular matrix (q, q) of its parameters, row by row."""
    factor = np.zeros((q, q))
    factor[triangle(q)] = parameters
    return factor
