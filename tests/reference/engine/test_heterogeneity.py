"""How much several estimates differ, against published results and other programs.

Data: 13 trials of the BCG vaccine (Colditz et al. 1994, J Am Med Assoc 271:698-702), log relative risks and their
variances as R's metafor computes them from the published counts (`escalc(measure="RR", data=dat.bcg)`).
Published results: Viechtbauer 2010, J Stat Softw 36(3), section 3 (Q = 152.23 on 12 degrees of freedom; interval of
the spread's variance .1197 to 1.1115, of I squared 81.92 to 97.68 per cent, whatever estimator is used).
Paule-Mandel, riley interval and shared errors: stored output of metafor 3.8-1 on R 4.2.2:

    r <- rma(yi, vi, data=d, method="PM", test="t", control=list(tol=1e-15, maxiter=10000))
    confint(r, control=list(tol=1e-14)); predict(r, pi.type="riley")
    rma.mv(y, V, data=data.frame(y=y)); (k-1)/sum(diag(P))
"""

import numpy as np
import pytest
import statsmodels.api as sm
from statsmodels.stats.oneway import anova_oneway

from latewood.pipeline.stats.engine.heterogeneity import heterogeneity

POSITIVE = np.array([4, 6, 3, 62, 33, 180, 8, 505, 29, 17, 186, 5, 27])
NEGATIVE = np.array([119, 300, 228, 13536, 5036, 1361, 2537, 87886, 7470, 1699, 50448, 2493, 16886])
CONTROL_POSITIVE = np.array([11, 29, 11, 248, 47, 372, 10, 499, 45, 65, 141, 3, 29])
CONTROL_NEGATIVE = np.array([128, 274, 209, 12619, 5761, 1079, 619, 87892, 7232, 1600, 27197, 2338, 17825])


@pytest.fixture(scope="module")
def vaccine():
    """Log relative risks and their variances from the published counts."""
    treated, control = POSITIVE + NEGATIVE, CONTROL_POSITIVE + CONTROL_NEGATIVE
    effect = np.log((POSITIVE / treated) / (CONTROL_POSITIVE / control))
    return effect, 1 / POSITIVE - 1 / treated + 1 / CONTROL_POSITIVE - 1 / control


def test_the_published_results_of_the_vaccine_trials(vaccine):
    effect, variance = vaccine
    result = heterogeneity(effect, np.diag(variance))
    assert round(result.q, 2) == 152.23
    assert (round(result.spread_low**2, 4), round(result.spread_high**2, 4)) == (0.1197, 1.1115)
    assert (round(100 * result.share_low, 2), round(100 * result.share_high, 2)) == (81.92, 97.68)
    assert result.share == pytest.approx(0.9222, abs=0.0015)  # with the REML spread; Paule-Mandel's is 92.33


def test_every_number_is_that_of_metafor(vaccine):
    effect, variance = vaccine
    result = heterogeneity(effect, np.diag(variance))
    assert result.spread**2 == pytest.approx(0.318068452205, rel=1e-9)
    assert 100 * result.share == pytest.approx(92.3303379542, rel=1e-9)
    assert result.mean == pytest.approx(-0.714968153493, rel=1e-9)
    assert (result.mean_low, result.mean_high) == pytest.approx((-1.109098381202, -0.320837925785), rel=1e-9)
    assert (result.next_low, result.next_high) == pytest.approx((-2.018558054185, 0.588621747198), rel=1e-9)
    assert result.spread_low**2 == pytest.approx(0.119718361141, rel=1e-9)
    assert result.spread_high**2 == pytest.approx(1.111479084061, rel=1e-9)


def test_spread_and_mean_are_those_of_statsmodels(vaccine):
    effect, variance = vaccine
    theirs = sm.stats.combine_effects(effect, variance, method_re="iterated", atol=1e-12, use_t=True)
    result = heterogeneity(effect, np.diag(variance))
    assert result.spread**2 == pytest.approx(theirs.tau2, rel=1e-6)
    assert result.q == pytest.approx(theirs.q, rel=1e-9)
    assert result.mean == pytest.approx(theirs.mean_effect_re, rel=1e-6)


def test_errors_that_are_shared_enter_q_and_mean_as_in_metafor():
    effect = np.array([1.2, 0.4, 2.1, 1.6, 0.2])
    first, second = np.array([0.3, 0.3, 0.0, -0.2, 0.0]), np.array([0.0, 0.1, 0.25, 0.0, 0.0])
    covariance = np.diag([0.10, 0.06, 0.20, 0.09, 0.12]) + np.outer(first, first) + np.outer(second, second)
    result = heterogeneity(effect, covariance)
    assert result.q == pytest.approx(17.5520159374, rel=1e-9)
    assert result.share == pytest.approx(result.spread**2 / (result.spread**2 + 0.135495393617), rel=1e-9)
    alike = heterogeneity(effect / 10, covariance)  # Q below its degrees of freedom: no spread, plain mean
    assert alike.spread == 0.0
    assert 10 * alike.mean == pytest.approx(1.04584674449, rel=1e-9)


def test_camps_that_share_a_whole_error_do_not_differ_by_it():
    effect, own = np.array([0.2, 0.9, 1.7, 1.1]), np.diag([0.05, 0.08, 0.06, 0.04])
    alone, joined = heterogeneity(effect, own), heterogeneity(effect, own + 0.5)
    assert joined.q == pytest.approx(alone.q, rel=1e-9)
    assert joined.spread == pytest.approx(alone.spread, rel=1e-6)
    assert joined.mean_high - joined.mean_low > 2 * (alone.mean_high - alone.mean_low)


def test_too_few_to_say():
    with pytest.raises(ValueError, match="two or more"):
        heterogeneity([1.0], [[1.0]])
    three = heterogeneity([1.0, 2.0, 4.0], np.eye(3) * 0.1)
    assert three.next_low is None and three.spread_high > three.spread > three.spread_low


def test_errors_learned_from_few_are_judged_as_welch_does():
    """Q at no spread against Welch's analysis of variance for unequal variances, as statsmodels has it."""
    rng = np.random.default_rng(2_682_000)
    groups = [rng.normal(m, s, n) for m, s, n in ((0, 1, 9), (1, 2, 14), (0.4, 0.6, 8), (1.3, 1.4, 11))]
    theirs = anova_oneway(groups, use_var="unequal", welch_correction=True)
    mean = np.array([g.mean() for g in groups])
    noise = np.array([g.var(ddof=1) / len(g) for g in groups])
    degrees = np.array([len(g) - 1 for g in groups])
    # the level whose interval of the spread begins exactly at zero is twice Welch's p value from 1
    inside = heterogeneity(mean, np.diag(noise), 1.0 - 2.0 * theirs.pvalue * 0.98, degrees)
    outside = heterogeneity(mean, np.diag(noise), 1.0 - 2.0 * theirs.pvalue * 1.02, degrees)
    assert inside.spread_low == 0.0 < outside.spread_low
    known = heterogeneity(mean, np.diag(noise), 1.0 - 2.0 * theirs.pvalue)
    assert known.spread_low > 0.0  # too sure
    assert heterogeneity(mean, np.diag(noise), degrees=degrees * 1e9).spread_low == pytest.approx(
        heterogeneity(mean, np.diag(noise)).spread_low, rel=1e-4
    )
