"""The draw of a camp's athletes into groups whose weight plans begin on different days, balanced by body mass.

Athletes stand in the order of their body mass; each block of as many neighbours as there are starts gets every start
once, in an order that the seed alone decides, so that nobody can choose who begins when and anybody can draw again.
Blocks: Fisher 1935, The Design of Experiments, ch. 4 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


def blocks_of(n_athletes: int, n_starts: int) -> Ints:
    """The block (n_athletes,) of each athlete in the order of body mass; the last may be short."""
    return np.arange(n_athletes, dtype=np.int64) // n_starts


def possible_draws(n_athletes: int, n_starts: int, times: int, rng: np.random.Generator) -> Ints:
    """What as many other seeds might have drawn, (times, n_athletes)."""
    n_blocks = -(-n_athletes // n_starts)
    order = np.argsort(rng.random((times, n_blocks, n_starts)), axis=2)
    return np.asarray(order.reshape(times, -1)[:, :n_athletes], dtype=np.int64)


def by_mass(athletes: Sequence[str], kilograms: Sequence[float]) -> tuple[str, ...]:
    """The athletes from the heaviest to the lightest; equal ones by their id."""
    pairs = sorted(zip(kilograms, athletes, strict=True), key=lambda pair: (-pair[0], pair[1]))
    return tuple(name for _, name in pairs)
