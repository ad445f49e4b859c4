"""Mean over several estimates by their scatter, against statsmodels, R's own words where stored, and a closed form.

The vaccine trials are those of `test_heterogeneity` (Colditz et al. 1994, J Am Med Assoc 271:698-702). The scale
factor of Hartung and Knapp for the random-effects mean is statsmodels' `sd_eff_w_re_hksj`.
"""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from latewood.pipeline.stats.engine.heterogeneity import heterogeneity
from latewood.pipeline.stats.engine.new_camp import pooled
from tests.reference.engine.test_heterogeneity import vaccine

__all__ = ["vaccine"]


def test_mean_and_its_error_are_those_of_statsmodels(vaccine):
    effect, variance = vaccine
    theirs = sm.stats.combine_effects(effect, variance, method_re="iterated", atol=1e-13)
    spread = heterogeneity(effect, np.diag(variance)).spread
    result = pooled(effect, np.diag(variance), spread)
    error = (result.high - result.mean) / stats.t.ppf(0.975, 12)
    assert result.mean == pytest.approx(theirs.mean_effect_re, rel=1e-6)
    assert error == pytest.approx(theirs.sd_eff_w_re_hksj, rel=1e-6)


def test_equal_errors_give_the_students_interval_of_the_mean():
    effect = np.array([0.2, 0.5, 0.1, 0.9])
    result = pooled(effect, 0.01 * np.eye(4), heterogeneity(effect, 0.01 * np.eye(4)).spread)
    half = stats.t.ppf(0.975, 3) * effect.std(ddof=1) / 2.0
    assert (result.low, result.high) == pytest.approx((effect.mean() - half, effect.mean() + half), rel=1e-9)
    # and errors stated ten times too large change nothing of it
    wide = pooled(effect, np.eye(4), 0.0)
    assert (wide.low, wide.high) == pytest.approx((result.low, result.high), rel=1e-9)


def test_an_error_shared_by_all_widens_the_mean_and_not_what_camps_differ_by():
    effect, own = np.array([0.2, 0.5, 0.1, 0.9]), 0.04 * np.eye(4)
    alone, joined = pooled(effect, own, 0.1), pooled(effect, own + 0.05, 0.1)
    assert joined.mean == pytest.approx(alone.mean, rel=1e-9)
    assert joined.high - joined.low > 1.5 * (alone.high - alone.low)


def test_one_more_is_held_where_the_spread_must_be_learned_from_four():
    rng, held = np.random.default_rng(8_200), []
    for _ in range(300):
        true = rng.normal(1.0, 0.3, 5)
        errors = rng.uniform(0.2, 0.5, 4)
        effect = true[:4] + rng.normal(0.0, errors)
        result = pooled(effect, np.diag(errors**2), heterogeneity(effect, np.diag(errors**2)).spread)
        held.append((result.next_low <= true[4] <= result.next_high, result.low <= 1.0 <= result.high))
    new, mean = np.mean(held, axis=0)
    # 300 programs: a standard error of .013
    assert 0.92 <= new <= 0.985, new
    assert 0.92 <= mean <= 0.98, mean


def test_two_are_too_few():
    with pytest.raises(ValueError, match="three or more"):
        pooled([1.0, 2.0], np.eye(2), 0.0)
