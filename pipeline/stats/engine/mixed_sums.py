"""Sums per group: all that a mixed model needs to know about its rows."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from latewood.pipeline.errors import NotComputedError

Floats = NDArray[np.float64]

RANK_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSums:
    """Cross products per group (G groups, p fixed, q random effects), with X made orthonormal first.

    `basis` (p, p) is R of X = QR and `offset` (p,) the least-squares fit that was taken off y; both only
    keep the arithmetic accurate and are undone in the fit. Within a group Z = Q T; the random effects can
    only move what lies along Q. So `outer` (G q q, (p+1)**2) holds the products of the rows of Q'[X | y], and
    `within` those of what is left beside Q: a criterion made of these two only ever adds squares.
    """

    index: Mapping[Hashable, int]
    n: Floats  # (G,) rows per group
    zz: Floats  # (G, q, q)
    zx: Floats  # (G, q, p)
    zy: Floats  # (G, q)
    xx: Floats  # (G, p, p)
    xy: Floats  # (G, p)
    root: Floats  # (G, q, q) T, upper triangle; a column that depends on the ones before has a zero there
    within: Floats  # (p+1, p+1) of what is left of [X | y] beside Z, over all rows
    basis: Floats
    offset: Floats
    floor: float  # smallest residual sum of squares that is clear of zero
    outer: Floats = field(repr=False)

    @property
    def n_rows(self) -> int:
        """Rows in all groups."""
        return int(self.n.sum())

    @property
    def n_fixed(self) -> int:
        """Number of fixed effects."""
        return int(self.zx.shape[2])

    def z_scale(self) -> Floats:
        """Root mean square of each random column, (q,)."""
        squares = np.einsum("gaa->a", self.zz) / self.n_rows
        return np.sqrt(np.where(squares > 0.0, squares, 1.0))

    def rescaled(self, scale: Floats) -> GroupSums:
        """The same sums with the random columns divided by `scale` (q,)."""
        return replace(
            self,
            zz=self.zz / (scale[:, None] * scale[None, :]),
            zx=self.zx / scale[:, None],
            zy=self.zy / scale,
            root=self.root / scale,
        )

    def zx_original(self, rows: NDArray[np.int_]) -> Floats:
        """Z'X (k, q, p) of some groups in the columns X came with."""
        return np.asarray(self.zx[rows] @ self.basis)


def group_sums(
    groups: Sequence[Hashable] | NDArray[Any], y: ArrayLike, X: ArrayLike, Z: ArrayLike
) -> GroupSums:
    """Sums per group of y (N,), X (N, p) and Z (N, q); raises NotComputedError where X has
    dependent columns, ValueError where lengths differ or a value is not finite."""
    ys, xs, zs = np.asarray(y, dtype=float), np.asarray(X, dtype=float), np.asarray(Z, dtype=float)
    _check(len(groups), ys, xs, zs)
    codes, labels = pd.factorize(np.asarray(groups, dtype=object), sort=True)
    order = np.argsort(codes, kind="stable")
    starts = np.flatnonzero(np.diff(codes[order], prepend=-1))
    basis, rotated = _orthonormal(xs)
    offset = np.linalg.solve(basis, rotated.T @ ys)
    rest = ys - rotated @ (rotated.T @ ys)
    rows = np.column_stack([zs, rotated, rest])[order]
    blocks = _block_sums(rows, starts)
    q = zs.shape[1]
    left = blocks[:, :q, q:]
    root, along, beside = _split(rows, q, starts)
    return GroupSums(
        index={label: i for i, label in enumerate(labels)},
        n=np.diff(starts, append=len(ys)).astype(float),
        zz=blocks[:, :q, :q],
        zx=left[:, :, :-1],
        zy=left[:, :, -1],
        xx=blocks[:, q:-1, q:-1],
        xy=blocks[:, q:-1, -1],
        root=root,
        within=beside.T @ beside,
        basis=basis,
        offset=offset,
        floor=1e-20 * float(ys @ ys) + 1e-200,
        outer=products_of_rows(along),
    )


def products_of_rows(along: Floats) -> Floats:
    """Products (G q q, w w) of the rows of each block (G, q, w)."""
    groups, q, width = along.shape
    return np.asarray(np.einsum("gai,gbj->gabij", along, along).reshape(groups * q * q, width * width))


def independent_columns(X: ArrayLike) -> bool:
    """Whether no column of X (N, p) is a combination of the others, and rows outnumber columns."""
    xs = np.asarray(X, dtype=float)
    if xs.shape[0] <= xs.shape[1]:
        return False
    size = np.linalg.norm(xs, axis=0)
    if not np.all(size > 0.0):
        return False
    diagonal = np.abs(np.diag(np.linalg.qr(xs / size, mode="r")))
    return bool(diagonal.min() > RANK_TOLERANCE)


def _orthonormal(xs: Floats) -> tuple[Floats, Floats]:
    if not independent_columns(xs):
        raise NotComputedError(
            f"fixed effects: columns depend on each other, or too few rows (got {xs.shape[0]} rows, "
            f"{xs.shape[1]} columns); drop a column or ask for a simpler model"
        )
    rotated, basis = np.linalg.qr(xs)
    return basis, rotated


def _split(rows: Floats, q: int, starts: NDArray[np.int_]) -> tuple[Floats, Floats, Floats]:
    """T (G, q, q), Q'[X | y] (G, q, w) and what is left of [X | y] (N, w); `rows` (N, q + w) in order of groups."""
    left = rows.copy()
    groups, width = len(starts), rows.shape[1]
    group = np.repeat(np.arange(groups), np.diff(starts, append=len(rows)))
    along = np.zeros((groups, q, width))
    for k in range(q):
        size = np.sqrt(np.add.reduceat(rows[:, k] ** 2, starts))
        length = np.sqrt(np.add.reduceat(left[:, k] ** 2, starts))
        estimate = length > RANK_TOLERANCE * size
        unit = np.where(estimate[group], left[:, k] / np.where(estimate, length, 1.0)[group], 0.0)
        for _ in range(2):  # what rounding left the first time goes the second time
            part = np.add.reduceat(unit[:, None] * left[:, k:], starts)
            left[:, k:] -= unit[:, None] * part[group]
            along[:, k, k:] += part
    return along[:, :, :q], along[:, :, q:], left[:, q:]


def _block_sums(rows: Floats, starts: NDArray[np.int_]) -> Floats:
    width = rows.shape[1]
    blocks = np.empty((len(starts), width, width))
    for i in range(width):
        for j in range(i + 1):
            # pair by pair: all products at once would not fit in memory for a million rows
            blocks[:, i, j] = np.add.reduceat(rows[:, i] * rows[:, j], starts)
            blocks[:, j, i] = blocks[:, i, j]
    return blocks


def _check(n: int, ys: Floats, xs: Floats, zs: Floats) -> None:
    if xs.ndim != 2 or zs.ndim != 2 or not n == len(ys) == len(xs) == len(zs):
        raise ValueError(
            f"mixed model: groups {n}, y {ys.shape}, X {xs.shape} and Z {zs.shape} do not fit together; "
            "give N groups, y (N,), X (N, p) and Z (N, q)"
        )
    if not (np.isfinite(ys).all() and np.isfinite(xs).all() and np.isfinite(zs).all()):
        raise ValueError("mixed model: a value is missing or not finite; leave such rows out first")
