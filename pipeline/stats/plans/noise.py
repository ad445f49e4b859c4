"""The noise of weigh-ins as simulated for a plan's alarm, and the variances that the alarm's filter takes."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import TYPICAL, MassVariances

Floats = NDArray[np.float64]

WANDER_MEMORY_DAYS: Final = 28.0

# A rate that hardly wanders is known ever better the longer a plan runs, and a stall in week 10 then has to
# outweigh ten weeks on plan: one in eight was called within six weeks at 0.4 % a week, one in four with this
# wander, at the same share of false alarms. Kg a week per root day.
FORGETFUL: Final = TYPICAL.rate_sd


def alarm_variances(variances: MassVariances) -> MassVariances:
    """The variances of the filter centred on a plan: no gain beside the plan's, and a rate that may change.

    >>> alarm_variances(TYPICAL).start_rate
    0.0
    """
    return replace(variances, start_rate=0.0, rate_sd=max(variances.rate_sd, FORGETFUL))


def autoregressive(
    rng: np.random.Generator, shape: tuple[int, int], persistence: float, spread: float
) -> Floats:
    """Return stationary first-order autoregressive series along the first axis.

    The result has that shape, (days, stays); `spread` is its SD.
    """
    out = rng.normal(0.0, spread, shape)
    fresh = np.sqrt(1.0 - persistence**2)
    for day in range(1, shape[0]):
        out[day] = persistence * out[day - 1] + fresh * out[day]
    return out
