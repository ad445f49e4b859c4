"""What one or two more test days would do to the tests beside a weight plan: slower, stronger, or still open.

A guard's chance is that of a normal mean known with the typical error. New days join the latest ones. *If they look
the same*, the change stays and its error shrinks. *Whatever they show*, the change that will be known moves by the
part of the error that the new days remove: its spread is the root of the error squared now less then (normal mean
with known error and nothing known before: Gelman et al. 2013, Bayesian Data Analysis, 3rd ed., section 2.5; from
memory).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from latewood.pipeline.stats.engine.normal import norm
from latewood.pipeline.stats.plans.guards import OUTPUT, SPLIT, STRENGTH
from latewood.pipeline.stats.plans.results import GuardRetest, PlanGuard
from latewood.pipeline.stats.plans.table import PERHAPS, SURE

EXTRA: Final = (1, 2)
SLOWER, UP = "slower", "up"
METHOD: Final = (
    "means of first and latest test days, typical error, nothing known before; new days join the latest"
)


def guard_retests(guards: Iterable[PlanGuard]) -> tuple[GuardRetest, ...]:
    """Return advice on one and two more test days for each strength, split or output that is not sure either way.

    Strength per kg is left out: it hangs on the same lift.
    """
    requested = [guard for guard in guards if guard.role in {SPLIT, STRENGTH, OUTPUT} and is_open(guard)]
    return tuple(_retest(guard, extra) for guard in requested for extra in EXTRA)


def is_open(guard: PlanGuard) -> bool:
    """Whether a guard's chance is neither as high as the decision table asks, nor as low the other way."""
    return 1.0 - SURE < chance_requested(guard) < SURE


def chance_requested(guard: PlanGuard) -> float:
    """The chance a guard is read for: slower by the margin or more for splits, up for the others."""
    return guard.chance_worse if guard.role == SPLIT else guard.chance_better


def error_after(guard: PlanGuard, extra: int) -> float:
    """The standard error of the change with `extra` more days among the latest."""
    now = 1.0 / guard.n_before + 1.0 / guard.n_after
    then = 1.0 / guard.n_before + 1.0 / (guard.n_after + extra)
    return guard.standard_error * float(np.sqrt(then / now))


def _retest(guard: PlanGuard, extra: int) -> GuardRetest:
    beyond = guard.change - (guard.margin if guard.role == SPLIT else 0.0)
    then = error_after(guard, extra)
    moves = float(np.sqrt(guard.standard_error**2 - then**2))
    return GuardRetest(
        plan_id=guard.plan_id,
        measure=guard.measure,
        line=guard.line,
        role=guard.role,
        asks=SLOWER if guard.role == SPLIT else UP,
        extra=extra,
        chance_now=chance_requested(guard),
        chance_then=float(norm.cdf(beyond / then)),
        chance_sure=float(norm.sf((float(norm.ppf(SURE)) * then - beyond) / moves)),
        chance_not=float(norm.cdf((float(norm.ppf(PERHAPS)) * then - beyond) / moves)),
        method=METHOD,
    )
