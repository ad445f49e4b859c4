"""How many looks a control chart takes to its first alarm, by the integral equation of the chart.

A yardstick for alarms, not an alarm: weigh-ins are not charted here, because their noise hangs together from
day to day (a chart of the usual limits then alarms every tenth morning) and because mass is meant to move.
It says what a stated share of false alarms means in looks, and checks the noise that `alarms.alarm_study`
draws against published run lengths (tests/reference/plans/test_run_lengths.py).

CUSUM: Page 1954, Biometrika 41:100-115; EWMA: Crowder 1987, Technometrics 29:401-407 (both equations written
from memory, held against published run lengths). Readings are independent and normal with SD 1; shifts,
allowances and limits are in SDs.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

Floats = NDArray[np.float64]

NODES = 60  # of Gauss and Legendre's rule; 40 give the same run lengths to seven figures


def shewhart_run_length(*, limit: float, shift: float = 0.0) -> float:
    """Return the mean number of readings until one lies beyond +-`limit`.

    >>> round(shewhart_run_length(limit=3.0), 3)
    370.398
    """
    return float(1.0 / (norm.sf(limit - shift) + norm.cdf(-limit - shift)))


def cusum_run_length(*, allowance: float, limit: float, shift: float = 0.0) -> float:
    """Return the mean number of readings until either sum of a two-sided CUSUM passes `limit`.

    Each sum starts at zero and adds what a reading exceeds `allowance` by, never falling below zero. The two
    sides combine as 1/L = 1/L_up + 1/L_down (exact for sums that cannot both be above zero at an alarm).
    """
    return 1.0 / sum(1.0 / _one_sided(allowance, limit, side * shift) for side in (1.0, -1.0))


def ewma_run_length(*, weight: float, width: float, shift: float = 0.0) -> float:
    """Return the mean number of readings until an EWMA from zero leaves its final limits.

    `weight` is that of the newest reading, the limits +-`width`·√(weight/(2 - weight)).
    """
    kernel, start = _ewma_kernel(weight, width, shift)
    inside = np.linalg.solve(np.eye(NODES) - kernel, np.ones(NODES))
    return float(1.0 + start @ inside)


def ewma_share_alarmed(*, weight: float, width: float, looks: int, shift: float = 0.0) -> float:
    """Return the share of EWMA charts that have given an alarm within so many looks."""
    kernel, start = _ewma_kernel(weight, width, shift)
    quiet = np.ones(NODES)
    for _ in range(looks - 1):
        quiet = kernel @ quiet
    return float(1.0 - start @ quiet)


def _one_sided(allowance: float, limit: float, shift: float) -> float:
    """Mean run length of one sum that starts at zero; the first unknown is its value at zero itself."""
    at, weights = _rule(0.0, limit)
    states = np.append(0.0, at)
    step = states[:, None] - allowance + shift  # where the sum goes on average
    kernel = np.column_stack([norm.cdf(-step[:, 0]), weights * norm.pdf(at[None, :] - step)])
    return float(np.linalg.solve(np.eye(NODES + 1) - kernel, np.ones(NODES + 1))[0])


def _ewma_kernel(weight: float, width: float, shift: float) -> tuple[Floats, Floats]:
    """Chances (node, node) to go from one value inside the limits to another, and (node,) from zero."""
    edge = width * float(np.sqrt(weight / (2.0 - weight)))
    at, weights = _rule(-edge, edge)
    here = (1.0 - weight) * np.append(at, 0.0)[:, None]
    kernel = weights / weight * norm.pdf((at[None, :] - here) / weight - shift)
    return np.asarray(kernel[:-1]), np.asarray(kernel[-1])


def _rule(low: float, high: float) -> tuple[Floats, Floats]:
    at, weights = np.polynomial.legendre.leggauss(NODES)
    return (high + low) / 2.0 + (high - low) / 2.0 * at, (high - low) / 2.0 * weights
