"""Sums per group: all that a mixed model needs to know about its rows."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

RANK_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSums:
    """Cross products per group (G groups, p fixed, q random effects), with X made orthonormal first.

    `basis` (p, p) is R of X = QR and `offset` (p,) the least-squares fit that was taken off y; both only
    keep the arithmetic accurate and are undone in the fit. `outer` (G q q, (p+1)**2) holds the products
    of the rows of [Z'X | Z'y] within a group.
    """

    index: Mapping[Hashable, int]
    n: Floats  # (G,) rows per group
    zz: Floats  # (G, q, q)
    zx: Floats  # (G, q, p)
    zy: Floats  # (G, q)
    xx: Floats  # (G, p, p)
    xy: Floats  # (G, p)
    total: Floats  # (p+1, p+1) of [X | y] over all rows
    basis: Floats
    offset: Floats
    floor: float  # smallest residual sum of squares that is told from zero
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
        both = scale[:, None] * scale[None, :]
        shape = (len(self.n), len(scale), len(scale), -1)
        outer = self.outer.reshape(shape) / both[None, :, :, None]
        return GroupSums(
            index=self.index,
            n=self.n,
            zz=self.zz / both,
            zx=self.zx / scale[:, None],
            zy=self.zy / scale,
            xx=self.xx,
            xy=self.xy,
            total=self.total,
            basis=self.basis,
            offset=self.offset,
            floor=self.floor,
            outer=outer.reshape(self.outer.shape),
        )

    def zx_original(self, rows: NDArray[np.int_]) -> Floats:
        """Z'X (k, q, p) of some groups in the columns X came with."""
        return np.asarray(self.zx[rows] @ self.basis)


def group_sums(
    groups: Sequence[Hashable] | NDArray[Any], y: ArrayLike, X: ArrayLike, Z: ArrayLike
) -> GroupSums:
    """Sums per group of y (N,), X (N, p) and Z (N, q); ValueError where X has dependent columns."""
    ys, xs, zs = np.asarray(y, dtype=float), np.asarray(X, dtype=float), np.asarray(Z, dtype=float)
    _check(len(groups), ys, xs, zs)
    codes, labels = pd.factorize(np.asarray(groups, dtype=object), sort=True)
    order = np.argsort(codes, kind="stable")
    starts = np.flatnonzero(np.diff(codes[order], prepend=-1))
    basis, rotated = _orthonormal(xs)
    offset = np.linalg.solve(basis, rotated.T @ ys)
    rest = ys - rotated @ (rotated.T @ ys)
    blocks = _block_sums(np.column_stack([zs, rotated, rest])[order], starts)
    q = zs.shape[1]
    left = blocks[:, :q, q:]
    outer = np.einsum("gai,gbj->gabij", left, left)
    return GroupSums(
        index={label: i for i, label in enumerate(labels)},
        n=np.diff(starts, append=len(ys)).astype(float),
        zz=blocks[:, :q, :q],
        zx=left[:, :, :-1],
        zy=left[:, :, -1],
        xx=blocks[:, q:-1, q:-1],
        xy=blocks[:, q:-1, -1],
        total=blocks[:, q:, q:].sum(axis=0),
        basis=basis,
        offset=offset,
        floor=1e-20 * float(ys @ ys) + 1e-200,
        outer=outer.reshape(len(starts) * q * q, -1),
    )


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
        raise ValueError(
            f"fixed effects: columns depend on each other, or too few rows (got {xs.shape[0]} rows, "
            f"{xs.shape[1]} columns); drop a column or ask for a simpler model"
        )
    rotated, basis = np.linalg.qr(xs)
    return basis, rotated


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
