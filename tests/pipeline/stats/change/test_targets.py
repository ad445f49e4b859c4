"""A target is judged by the last test day before its day, with the error of one day."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from latewood.pipeline.catalogue.model import Better
from latewood.pipeline.stats.change.targets import (
    CLOSE,
    MISSED,
    NOT_DUE,
    REACHED,
    UNTESTED,
    DayValue,
    chance_reached,
    judge_target,
)

DUE = date(2032, 8, 1)
UP, DOWN = (1.0, Better.HIGHER), (0.1, Better.LOWER)


@pytest.mark.parametrize(
    ("z", "area"), [(0.0, 0.5), (1.0, 0.8413), (1.2816, 0.9), (-1.6449, 0.05), (2.3263, 0.99)]
)
def test_the_chance_is_that_of_the_printed_table_of_the_normal_curve(z: float, area: float) -> None:
    """NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1, areas under the normal curve."""
    assert chance_reached(80.0 + 2.0 * z, 80.0, 2.0, Better.HIGHER) == pytest.approx(area, abs=5e-5)
    assert chance_reached(7.0 - 0.1 * z, 7.0, 0.1, Better.LOWER) == pytest.approx(area, abs=5e-5)


def test_of_true_values_at_the_target_as_many_are_called_reached_as_stated() -> None:
    """Where the true value is at the target exactly, one test in ten is called reached, one in ten not reached."""
    rng = np.random.default_rng(5)
    days = [DayValue(held_on=DUE, value=80.0 + noise) for noise in rng.normal(0.0, 1.0, 2000)]
    outcomes = [judge_target([one], 80.0, DUE, DUE, UP).outcome for one in days]
    for outcome in (REACHED, MISSED):
        assert outcomes.count(outcome) / 2000 == pytest.approx(0.1, abs=0.02)


def _tested(value: float, days_before: int) -> DayValue:
    return DayValue(held_on=DUE - timedelta(days=days_before), value=value)


def test_the_last_day_before_the_due_day_counts_and_no_later_one() -> None:
    days = [_tested(82.0, 10), _tested(79.0, 2), _tested(90.0, -1)]
    made = judge_target(days, 80.0, DUE, DUE + timedelta(days=5), UP)
    assert (made.outcome, made.tested) == (CLOSE, days[1])
    assert judge_target(days[:1], 80.0, DUE, DUE, UP).outcome == REACHED
    assert judge_target([_tested(78.0, 0)], 80.0, DUE, DUE, UP).outcome == MISSED
    assert judge_target([_tested(6.8, 0)], 7.0, DUE, DUE, DOWN).outcome == REACHED


def test_what_cannot_be_judged_is_not() -> None:
    assert judge_target([_tested(90.0, 15)], 80.0, DUE, DUE, UP).outcome == UNTESTED
    assert judge_target([_tested(90.0, 14)], 80.0, DUE, DUE, UP).outcome == REACHED
    assert judge_target([], 80.0, DUE, DUE, UP).outcome == UNTESTED
    early = judge_target([_tested(90.0, 1)], 80.0, DUE, DUE - timedelta(days=1), UP)
    assert (early.outcome, early.tested) == (NOT_DUE, _tested(90.0, 1))
    without = judge_target([_tested(90.0, 0)], 80.0, DUE, DUE, (None, Better.HIGHER))
    assert (without.outcome, without.chance) == (CLOSE, None)
