"""The arithmetic of the scorecard of projections against worked numbers and statsmodels."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from latewood.pipeline.stats.projection.scores import effective_number, judge_promise


# worked case: 60 intervals of 80 %; shares and intervals in whole per cent
@pytest.mark.parametrize(
    ("inside", "share", "low", "high", "verdict"),
    [(45, 75, 65, 83, "as promised"), (38, 63, 53, 73, "too narrow")],
)
def test_sixty_intervals_of_80_percent(inside, share, low, high, verdict):
    words = judge_promise(inside, 60)
    assert (round(100 * words.share), round(100 * words.low), round(100 * words.high)) == (share, low, high)
    assert words.verdict == verdict


def test_chance_of_38_of_60_at_80_percent_is_three_in_a_thousand():
    assert judge_promise(38, 60).chance == pytest.approx(0.003, abs=0.0005)
    # summed by hand: all outcomes no more likely than 38
    pmf = stats.binom.pmf(np.arange(61), 60, 0.8)
    assert judge_promise(38, 60).chance == pytest.approx(pmf[pmf <= pmf[38] * (1 + 1e-7)].sum(), rel=1e-9)


@pytest.mark.parametrize(("inside", "made"), [(45, 60), (38, 60), (1, 20), (19, 20)])
def test_interval_is_the_jeffreys_interval_of_statsmodels(inside, made):
    low, high = proportion_confint(inside, made, alpha=0.10, method="jeffreys")
    words = judge_promise(inside, made)
    assert (words.low, words.high) == pytest.approx((low, high), rel=1e-12)


def test_a_share_of_everything_reaches_one_and_too_many_inside_is_too_wide():
    words = judge_promise(60, 60)
    assert words.high == 1.0
    assert words.verdict == "too wide"


def test_stays_that_all_agree_count_once():
    inside = np.repeat([1.0, 0.0, 1.0, 1.0, 0.0], 4)
    assert effective_number(inside, np.repeat(np.arange(5), 4)) == 5
    assert effective_number(inside, np.arange(20)) == 20
    assert effective_number(np.ones(8), np.repeat([0, 1], 4)) == 2
