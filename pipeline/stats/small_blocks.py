"""Inverses and triangles of the small matrices of random effects."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from pipeline.stats.mixed_sums import Floats


def invert(blocks: Floats) -> tuple[Floats, Floats]:
    """Inverses (G, q, q) and log determinants (G,) of symmetric blocks; closed form up to q = 2."""
    q = blocks.shape[1]
    if q == 1:
        return 1.0 / blocks, np.log(blocks[:, 0, 0])
    if q > 2:
        return np.asarray(np.linalg.inv(blocks), dtype=float), np.asarray(
            np.linalg.slogdet(blocks)[1], dtype=float
        )
    a, b, d = blocks[:, 0, 0], blocks[:, 0, 1], blocks[:, 1, 1]
    det = a * d - b * b
    flipped = np.stack([d, -b, -b, a], axis=1).reshape(-1, 2, 2)
    return flipped / det[:, None, None], np.log(det)


def between(left: Floats, blocks: Floats) -> Floats:
    """A B A' of each block B (G, q, q) and one A (q, q): one product of all blocks instead of two of each."""
    product: Floats = blocks.reshape(len(blocks), -1) @ np.kron(left.T, left.T)
    return product.reshape(blocks.shape)


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
