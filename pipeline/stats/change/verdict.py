"""What a change is called, and how large its normal deviate must be to be called clear.

A trend is looked at after every session, so a stay of many sessions has many chances to look changed by
luck. With one threshold of 2.33 for all, athletes who do not change were ever called changed in 2 % of stays
with 4 sessions and in 15 to 18 % with 20 (`looks`). The threshold is set so that this share, either way,
stays near 6 % at most up to 20 sessions. It rises slowly: one threshold of 2.77 would keep the same promise,
but find fewer of the changes in stays of 4 to 6 sessions, and a steeper rise fewer of those in long stays.
Set on simulated camps of 40 (seed 1, 100 camps); how it does on other seeds and camps is printed by

    python -c "from tests.bench.looks import *; print(looks_study())"
"""

from __future__ import annotations

from math import exp, log
from typing import Final

import numpy as np
from scipy import special

from latewood.pipeline.catalogue.model import Better

FEWEST_SESSIONS: Final = 4
CLEAR_FIRST: Final = 2.6  # at the first verdict
SMALLEST_TAIL: Final = exp(-690.0)
CLEAR_STEP: Final = 0.2  # for each time the sessions grow by a factor of e


def clear_at(n_sessions: int) -> float:
    """The normal deviate beyond which a change over so many sessions is clear.

    >>> [round(clear_at(n), 2) for n in (4, 5, 8, 12, 20)]
    [2.6, 2.64, 2.74, 2.82, 2.92]
    """
    return CLEAR_FIRST + CLEAR_STEP * log(max(n_sessions, FEWEST_SESSIONS) / FEWEST_SESSIONS)


def judge(z: float | None, n_sessions: int, better: Better) -> tuple[str, str]:
    """The verdict on a change with this z from so many sessions, and the reason for it.

    >>> judge(-2.9, 5, Better.LOWER)[0]
    'clear gain'
    """
    if n_sessions < 2:
        return "too few sessions", "one session: a change needs a second one"
    if n_sessions < FEWEST_SESSIONS:
        return "too few sessions", f"{n_sessions} sessions: a verdict needs {FEWEST_SESSIONS}"
    if z is None:
        return "not clear yet", "the measurement error of this line is not known"
    if abs(z) <= clear_at(n_sessions):
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
