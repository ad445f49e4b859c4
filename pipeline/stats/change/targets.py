"""Whether a target for a test was reached: the last test day before its day, with the error of one day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from scipy import stats

from latewood.pipeline.catalogue.model import Better

SURE: Final = 0.9  # either way; between the two it is too close to tell
NEAR: Final = timedelta(days=14)  # a test longer before the day says nothing of it
NOT_DUE, UNTESTED, REACHED, CLOSE, MISSED = (
    "not due",
    "not tested",
    "reached",
    "too close to tell",
    "not reached",
)
OUTCOMES: Final = (REACHED, CLOSE, MISSED, UNTESTED, NOT_DUE)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayValue:
    """The value of one test day of an athlete, in the canonical unit."""

    held_on: date
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TargetOutcome:
    """What became of a target: the test day it is judged by, and the chance that the true value has reached it."""

    outcome: str
    tested: DayValue | None
    chance: float | None


def chance_reached(value: float, target: float, error: float, better: Better) -> float:
    """The chance that the true value of a test day is at the target or beyond.

    The day's value is normal about the true one with the typical error, and nothing is known of it beforehand
    (Hopkins 2000, Sports Med 30:1-15, for one value instead of two; from memory).

    >>> round(chance_reached(85.0, 84.0, 1.0, Better.HIGHER), 2), round(chance_reached(7.0, 7.0, 0.1, Better.LOWER), 2)
    (0.84, 0.5)
    """
    turn = -1.0 if better is Better.LOWER else 1.0
    return float(stats.norm.cdf(turn * (value - target) / error))


def judge_target(
    tested: Iterable[DayValue], target: float, due: date, today: date, measured: tuple[float | None, Better]
) -> TargetOutcome:
    """What became of a target due on a day, from an athlete's test days in one line; `measured` is its error and sense.

    Before its day it is not due, and the last test day stands beside it; without an error no chance is given, and a
    value at the target or beyond counts as too close to tell.
    """
    error, better = measured
    before = [one for one in tested if one.held_on <= min(due, today)]
    last = max(before, key=lambda one: one.held_on, default=None)
    chance = None if last is None or not error else chance_reached(last.value, target, error, better)
    if today < due:
        return TargetOutcome(outcome=NOT_DUE, tested=last, chance=chance)
    if last is None or last.held_on < due - NEAR:
        return TargetOutcome(outcome=UNTESTED, tested=last, chance=None)
    if chance is None:
        return TargetOutcome(outcome=CLOSE, tested=last, chance=None)
    outcome = REACHED if chance >= SURE else MISSED if chance <= 1 - SURE else CLOSE
    return TargetOutcome(outcome=outcome, tested=last, chance=chance)
