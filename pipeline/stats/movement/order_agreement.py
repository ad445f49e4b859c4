"""Agreement on an ordinal outcome beyond chance: Krippendorff's alpha, with an interval by resampling whole units."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from latewood.pipeline.stats.engine.mixed_sums import Floats

DRAWS = 2000
SEED = 4711  # the same draws at every build, so that results do not move


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderAgreement:
    """Alpha (1 perfect, 0 as by chance) with its interval; None where every value is the same."""

    alpha: float | None
    low: float | None
    high: float | None
    n_units: int  # units with at least two values to compare
    n_values: int


def ordinal_agreement(
    units: ArrayLike,
    values: ArrayLike,
    apart: ArrayLike | None = None,
    clusters: ArrayLike | None = None,
    level: float = 0.95,
) -> OrderAgreement:
    """Return Krippendorff's alpha for ordered categories 0, 1, 2, ... of values that share a unit.

    `units` (n,) says which values are compared. With `apart` (n,), values of the same `apart` are not compared: so
    trials of different days are, and trials of one day are not. Each value counts once, however many it is compared
    with. The interval resamples `clusters` (the units where not given); each unit lies in one cluster.

    Source: Krippendorff 2011, Computing Krippendorff's alpha-reliability (ordinal data with values missing).
    """
    unit = np.unique(np.asarray(units), return_inverse=True)[1]
    value = np.asarray(values, dtype=int)
    split = None if apart is None else np.unique(np.asarray(apart), return_inverse=True)[1]
    n_levels = int(value.max()) + 1 if len(value) else 1
    owner = unit if clusters is None else np.unique(np.asarray(clusters), return_inverse=True)[1]
    tables, owners = [], []
    for one in range(int(unit.max()) + 1 if len(unit) else 0):
        mine = unit == one
        table = _coincidences(value[mine], None if split is None else split[mine], n_levels)
        if table.sum() > 0:
            tables.append(table)
            owners.append(int(owner[mine][0]))
    if not tables:
        return OrderAgreement(alpha=None, low=None, high=None, n_units=0, n_values=0)
    stack = np.stack(tables)
    alpha = float(_alphas(stack.sum(axis=0, keepdims=True))[0])
    if np.isnan(alpha):
        return OrderAgreement(alpha=None, low=None, high=None, n_units=len(tables), n_values=len(value))
    low, high = _interval(stack, np.array(owners), level)
    return OrderAgreement(
        alpha=alpha, low=low, high=high, n_units=len(tables), n_values=round(float(stack.sum()))
    )


def _coincidences(values: NDArray[np.int64], apart: NDArray[np.int64] | None, n_levels: int) -> Floats:
    """Pairs of categories within one unit; the pairs of each value weigh one together."""
    comparable = ~np.eye(len(values), dtype=bool) if apart is None else apart[:, None] != apart[None, :]
    partners = comparable.sum(axis=1)
    weight = np.where(comparable, 1.0 / np.maximum(partners, 1)[:, None], 0.0)
    which = np.eye(n_levels)[values]
    result: Floats = which.T @ weight @ which
    return result


def _alphas(tables: Floats) -> Floats:
    """Alpha of each table of coincidences (m, k, k); NaN where there is nothing to disagree on."""
    margin = tables.sum(axis=2)
    n = margin.sum(axis=1)
    middle = np.cumsum(margin, axis=1) - margin / 2
    apart = (middle[:, :, None] - middle[:, None, :]) ** 2  # the sum of what lies between, half of both ends
    expected = np.einsum("bi,bj,bij->b", margin, margin, apart)
    observed = np.einsum("bij,bij->b", tables, apart) * (n - 1)
    estimate = (n > 1) & (expected > 0)
    result: Floats = np.where(estimate, 1 - observed / np.where(estimate, expected, 1.0), np.nan)
    return result


def _interval(stack: Floats, owners: NDArray[np.int64], level: float) -> tuple[float | None, float | None]:
    rng = np.random.default_rng(SEED)
    names = np.unique(owners)
    if len(names) < 2:
        return None, None
    by_owner = np.stack([stack[owners == name].sum(axis=0) for name in names])
    times = rng.multinomial(len(names), np.full(len(names), 1 / len(names)), size=DRAWS)
    drawn = _alphas(np.tensordot(times, by_owner, axes=1))
    result = drawn[np.isfinite(drawn)]
    if len(result) < DRAWS / 2:
        return None, None
    low, high = np.quantile(result, [(1 - level) / 2, (1 + level) / 2])
    return float(low), float(high)
