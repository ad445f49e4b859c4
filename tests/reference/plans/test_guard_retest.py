"""A 60-yard time tested again: the worked case of a plan that may cost speed, and a normal mean learned by draws.

Worked case: typical error 0.07 s; 7.12 then 7.21 s, once each, is slower by 0.05 s or more with 66 %; two days
before (7.12, 7.10) and three after (7.21, 7.20, 7.23) say 80 % (own hand calculation, no publication).
"""

import numpy as np
import pytest
from scipy.stats import norm

from latewood.pipeline.stats.plans.guard_retest import error_after, guard_retests
from latewood.pipeline.stats.plans.guards import OUTPUT, PER_KG, SPLIT, change_between
from latewood.pipeline.stats.plans.results import PlanGuard

TYPICAL = 0.07


def guard(before, after, role=SPLIT, margin=0.05):
    result = change_between(before, after, TYPICAL)
    better = 1.0 - result.chance_above(0.0) if role == SPLIT else result.chance_above(0.0)
    worse = result.chance_above(margin) if role == SPLIT else 1.0 - result.chance_above(-margin)
    return PlanGuard(
        plan_id="P", measure="sprint_60yd", line="", role=role, n_before=len(before), n_after=len(after),
        before_on=None, after_on=None, before=result.before, after=result.after, change=result.change,
        standard_error=result.standard_error, chance_better=better, chance_worse=worse, margin=margin,
    )  # fmt: skip


def test_one_time_before_and_after_is_two_thirds_and_two_more_like_it_seven_in_ten():
    one, two = guard_retests([guard([7.12], [7.21])])
    assert one.chance_now == pytest.approx(0.66, abs=0.005)
    assert two.chance_then == pytest.approx(norm.cdf(0.04 / (0.07 * np.sqrt(1 + 1 / 3))), abs=1e-12)
    assert one.chance_now < one.chance_then < two.chance_then


def test_with_two_days_before_and_three_after_it_is_eighty():
    full = change_between([7.12, 7.10], [7.21, 7.20, 7.23], TYPICAL)
    assert full.standard_error == pytest.approx(0.064, abs=0.0005)
    assert full.chance_above(0.05) == pytest.approx(0.80, abs=0.005)
    assert error_after(guard([7.12, 7.10], [7.21]), 2) == pytest.approx(full.standard_error)


@pytest.mark.parametrize("extra", [1, 2])
@pytest.mark.parametrize("role", [SPLIT, OUTPUT])
def test_chances_are_the_shares_of_drawn_tests(extra, role):
    """True change drawn from what is known now, new days from the typical error, the guard made anew each time."""
    rng, n = np.random.default_rng(3), 20_000
    before, after = [7.12, 7.10], [7.21 if role == SPLIT else 7.13]
    start = guard(before, after, role)
    text = guard_retests([start])[extra - 1]
    true = rng.normal(start.change, start.standard_error, n)
    # the level before is known with its own error, tied to the true change by the days seen so far
    both = np.array([[1 / 2, -1 / 2], [-1 / 2, 1 / 2 + 1.0]]) * TYPICAL**2
    level = start.before + both[0, 1] / both[1, 1] * (true - start.change)
    level += rng.normal(0.0, np.sqrt(both[0, 0] - both[0, 1] ** 2 / both[1, 1]), n)
    new = level[:, None] + true[:, None] + rng.normal(0.0, TYPICAL, (n, extra))
    then = [guard(before, [*after, *row], role) for row in new[:4000]]
    sure = np.array([(g.chance_worse if role == SPLIT else g.chance_better) for g in then])
    for chance, share in ((text.chance_sure, (sure >= 0.8).mean()), (text.chance_not, (sure < 0.5).mean())):
        assert share == pytest.approx(chance, abs=4 * np.sqrt(chance * (1 - chance) / 4000))
        assert 0.02 < chance < 0.98


def test_what_is_sure_either_way_or_hangs_on_another_lift_is_not_advised_on():
    assert guard_retests([guard([7.12], [7.40]), guard([7.12], [6.90]), guard([7.12], [7.21], PER_KG)]) == ()
