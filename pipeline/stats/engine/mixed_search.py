"""The optimum of many mixed models with two random effects at once, by Newton's method.

The diagonal of L is searched on the log scale, where the penalised criterion has no bounds. The curvature comes
from differences of the gradient. A model that does not settle is handed back as not found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.mixed_pairs import PairSums, pair_deviance, pair_sums
from latewood.pipeline.stats.engine.mixed_sums import Floats, GroupSums

STEP = 1e-4  # of the differences that give the curvature
LONGEST = 2.0  # of a step, on the log scale
SETTLED = 1e-13  # fall of the deviance that one more step promises
MOST_STEPS = 40
MOST_CELLS = 200_000  # groups x models x points evaluated together; bounds the memory
_LOG = np.array([True, False, True])
_AROUND = np.vstack([np.zeros(3), STEP * np.eye(3), -STEP * np.eye(3)])


@dataclass(slots=True)
class _State:
    at: Floats  # (B, 3)
    value: Floats  # (B,)
    gradient: Floats  # (B, 3)
    step: Floats  # (B, 3) to be tried next
    promise: Floats  # (B,) fall of the deviance it promises


def penalised_optima(models: Sequence[GroupSums], start: Floats) -> list[Floats | None]:
    """The lower triangle (3,) of L of each model at its penalised optimum; None where none was found.

    `models` have two random effects, scaled to size one; `start` (3,) is where every search begins.
    """
    result: list[Floats | None] = [None] * len(models)
    by_width: dict[int, list[int]] = {}
    for at, model in enumerate(models):
        by_width.setdefault(model.n_fixed, []).append(at)
    for places in by_width.values():
        for part in _bounded(models, places):
            for at, factor in zip(part, _search([models[k] for k in part], start), strict=True):
                result[at] = factor
    return result


def _bounded(models: Sequence[GroupSums], places: list[int]) -> list[list[int]]:
    """The places in parts that fit the memory, models of like size together."""
    parts: list[list[int]] = []
    for at in sorted(places, key=lambda k: len(models[k].n)):
        cells = (len(parts[-1]) + 1) * len(models[at].n) * len(_AROUND) if parts else MOST_CELLS + 1
        if cells > MOST_CELLS:
            parts.append([])
        parts[-1].append(at)
    return parts


def _search(models: list[GroupSums], start: Floats) -> list[Floats | None]:
    sums = pair_sums(models)
    result: list[Floats | None] = [None] * len(models)
    logged = np.where(_LOG, np.log(np.where(_LOG, start, 1.0)), start)
    open_ = np.arange(len(models))
    state = _evaluated(sums, np.tile(logged, (len(models), 1)))
    for _ in range(MOST_STEPS):
        done = state.promise <= SETTLED
        for k in np.flatnonzero(done):
            result[open_[k]] = _factor(state.at[k] + state.step[k])
        left = np.flatnonzero(~done & np.isfinite(state.value))
        if not left.size:
            break
        if left.size < open_.size:  # a model of many groups is not copied for nothing
            open_, sums, state = open_[left], sums.only(left), _kept(state, left)
        tried = _evaluated(sums, state.at + state.step)
        worse = ~(tried.value <= state.value + 1e-10 * np.abs(state.value))
        state = _State(
            at=np.where(worse[:, None], state.at, tried.at),
            value=np.where(worse, state.value, tried.value),
            gradient=np.where(worse[:, None], state.gradient, tried.gradient),
            step=np.where(worse[:, None], 0.5 * state.step, tried.step),
            promise=np.where(worse, np.maximum(state.promise, 2.0 * SETTLED), tried.promise),
        )
    return result


def _kept(state: _State, left: NDArray[np.intp]) -> _State:
    return _State(
        at=state.at[left], value=state.value[left], gradient=state.gradient[left], step=state.step[left],
        promise=state.promise[left],
    )  # fmt: skip


def _evaluated(sums: PairSums, at: Floats) -> _State:
    """Value, gradient and Newton step of each model at its point (B, 3), the diagonal on the log scale."""
    points = at[:, None] + _AROUND
    factor = _factor(points)
    value, by_factor = pair_deviance(sums, factor)
    value = value - 2.0 * (points[..., 0] + points[..., 2])
    slope = np.where(_LOG, by_factor * factor - 2.0, by_factor)
    curvature = (slope[:, 1:4] - slope[:, 4:7]) / (2.0 * STEP)
    curvature = 0.5 * (curvature + curvature.swapaxes(1, 2))
    gradient = slope[:, 0]
    step = _newton(curvature, gradient)
    promise = -0.5 * (gradient * step).sum(axis=1)
    length = np.linalg.norm(step, axis=1)
    step *= np.minimum(1.0, LONGEST / np.maximum(length, 1e-300))[:, None]
    return _State(at=at, value=value[:, 0], gradient=gradient, step=step, promise=promise)


def _newton(curvature: Floats, gradient: Floats) -> Floats:
    """A step (B, 3) downhill: curvature that is not positive counts by its size."""
    full = np.concatenate([curvature.reshape(-1, 9), gradient], axis=1)
    usable: NDArray[np.bool_] = np.all(np.isfinite(full), axis=1)
    values, vectors = np.linalg.eigh(np.where(usable[:, None, None], curvature, np.eye(3)))
    size = np.maximum(np.abs(values), 1e-8 * np.maximum(np.abs(values).max(axis=1, keepdims=True), 1e-8))
    along = (vectors.swapaxes(1, 2) @ np.where(usable[:, None], gradient, 0.0)[..., None])[..., 0]
    return np.asarray(-(vectors @ (along / size)[..., None])[..., 0], dtype=float)


def _factor(points: Floats) -> Floats:
    """Lower triangles (..., 3) of points with the diagonal on the log scale, within what the search allows."""
    return np.where(
        _LOG, np.exp(np.clip(np.where(_LOG, points, 0.0), -13.8, 9.2)), np.clip(points, -1e4, 1e4)
    )
