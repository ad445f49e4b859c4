"""What a change is called, and how large its normal deviate must be to be called clear.

A trend is looked at after every session, so a stay of many sessions has many chances to look changed by
luck. Over the sessions planned for a stay, an athlete who does not change is called changed in at most 5 %
of stays, either way; later looks spend more of that than early ones, in proportion to the looks so far to
the power of 3/2 (`spending`). A stay of four planned sessions has one look, at 1.96; one of seven has four,
from 2.73 down to 2.21. An even share finds fewer changes by the end, a power of 2 hardly any early.
How the promise is kept where noise and intake day are learned from the camp is printed by

    python -c "from tests.bench.looks import *; print(looks_study())"
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from math import exp
from typing import Final

import numpy as np
from scipy import special

from latewood.pipeline.catalogue.model import Better
from latewood.pipeline.stats.engine.spending import spending_limits

FEWEST_SESSIONS: Final = 4
MOST_PLANNED: Final = 40  # more are looked at as the last of so many
FALSE_RATE: Final = 0.05  # of stays without a change that are ever called clear, either way
POWER: Final = 1.5  # of the share of looks, in what is spent by then
SMALLEST_TAIL: Final = exp(-690.0)


def clear_at(n_sessions: int, planned: int) -> float:
    """The normal deviate beyond which a change is clear after so many of the sessions planned.

    With more sessions than planned the last one is looked at as if it had been planned last.

    >>> [round(clear_at(n, 7), 2) for n in (4, 5, 6, 7, 8)]
    [2.73, 2.47, 2.32, 2.21, 2.25]
    """
    last = min(max(planned, n_sessions, FEWEST_SESSIONS), MOST_PLANNED)
    return _limits(last)[min(max(n_sessions, FEWEST_SESSIONS), last) - FEWEST_SESSIONS]


@cache
def _limits(planned: int) -> Sequence[float]:
    """The limits after 4, 5 … planned sessions; evenly spaced, n of them tell n(n² - 1) about a slope."""
    looks = range(FEWEST_SESSIONS, planned + 1)
    spent = [FALSE_RATE * ((k + 1.0) / len(looks)) ** POWER for k in range(len(looks))]
    return spending_limits([n * (n * n - 1.0) for n in looks], spent)


def judge(z: float | None, n_sessions: int, planned: int, better: Better) -> tuple[str, str]:
    """The verdict on a change with this z after so many of the sessions planned, and the reason for it.

    >>> judge(-2.9, 5, 8, Better.LOWER)[0]
    'clear gain'
    """
    if n_sessions < 2:
        return "too few sessions", "one session: a change needs a second one"
    if n_sessions < FEWEST_SESSIONS:
        return "too few sessions", f"{n_sessions} sessions: a verdict needs {FEWEST_SESSIONS}"
    if z is None:
        return "not clear yet", "the measurement error of this line is not known"
    if abs(z) <= clear_at(n_sessions, planned):
        return "not clear yet", "the change is within what session-to-session noise can do"
    up = z > 0.0
    if better is Better.NEITHER:
        return ("clear rise" if up else "clear fall"), ""
    return ("clear gain" if up == (better is Better.HIGHER) else "clear loss"), ""


def chance_better(z: float | None, better: Better) -> float | None:
    """Probability that the true change is for the better; None where neither way is better."""
    if z is None or better is Better.NEITHER:
        return None
    return float(special.ndtr(z if better is Better.HIGHER else -z))


def normal_z(ratio: float, degrees: float) -> float:
    """The normal deviate with the same tail as a t value, so that one threshold serves all."""
    # the plain functions: the distributions of scipy.stats check their arguments at a hundred times the cost
    tail = float(special.stdtr(degrees, -abs(ratio)))
    # below about 1e-300 the tail cannot be turned back
    size = min(float(-special.ndtri(max(tail, SMALLEST_TAIL))), 37.0)
    return float(np.copysign(size, ratio))
