"""Limits for a result that is looked at several times, so that all looks together seldom flag what did not change.

The looks are those of a running estimate whose information grows; its increments are independent. An error rate is
spent along the way, as much by each look as a spending function says: Lan, DeMets 1983, Biometrika 70:659-663; in
proportion to a power of the information: Kim, DeMets 1987, Biometrika 74:149-154. The probability of passing a limit
for the first time at a look is integrated from look to look: Armitage, McPherson, Rowe 1969, J R Stat Soc A
132:235-244. All from memory.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import optimize, special

from latewood.pipeline.stats.engine.mixed_sums import Floats

POINTS = 401  # of the grid between the limits; odd, for Simpson's rule
WIDEST = 9.0


def spending_limits(information: Sequence[float], spent: Sequence[float]) -> tuple[float, ...]:
    """The limits of |z| at each look so that the chance to have passed one by then is `spent` where nothing changed.

    `information` rises from look to look in any unit; `spent` is the two-sided error rate up to each look, which
    rises too. A limit is at most 9.

    >>> [round(c, 2) for c in spending_limits([0.5, 1.0], [0.0031, 0.05])]  # O'Brien and Fleming's kind
    [2.96, 1.97]
    """
    limits: list[float] = []
    at, density = np.zeros(1), np.ones(1)  # of the sum so far, weighted for the integral
    before = (0.0, 0.0)
    for now, rate in zip(information, spent, strict=True):
        step = float(np.sqrt(now - before[0]))
        limit = _limit(at, density, step, float(np.sqrt(now)), rate - before[1])
        limits.append(limit)
        edge = limit * float(np.sqrt(now))
        ahead = np.linspace(-edge, edge, POINTS)
        reached = np.exp(-0.5 * ((ahead[:, None] - at) / step) ** 2) / (step * np.sqrt(2.0 * np.pi))
        at, density = ahead, (reached @ density) * _simpson(ahead[1] - ahead[0])
        before = (now, rate)
    return tuple(limits)


def _limit(at: Floats, density: Floats, step: float, scale: float, rate: float) -> float:
    """The limit that a sum which is at `at` passes with that chance at the next look."""

    def excess(limit: float) -> float:
        edge = limit * scale
        out = special.ndtr((-edge - at) / step) + special.ndtr((at - edge) / step)
        return float(out @ density) - rate

    return WIDEST if excess(WIDEST) >= 0.0 else float(optimize.brentq(excess, 0.0, WIDEST, xtol=1e-9))


def _simpson(width: float) -> Floats:
    weight = np.ones(POINTS)
    weight[1:-1:2], weight[2:-1:2] = 4.0, 2.0
    return np.asarray(weight * width / 3.0)
