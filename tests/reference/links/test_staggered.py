"""Drawn plan starts against statsmodels, the published variance of a stepped wedge, and every possible draw.

Variance of a stepped wedge: Hussey, Hughes 2007, Contemp Clin Trials 28:182-191, section 3 (from memory; the formula,
not a printed example). One cluster here is one athlete; exposure may be any number of weeks, for which the sum of its
squares stands where the formula has the sum of a 0/1 exposure.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from scipy.linalg import block_diag
from statsmodels.regression.mixed_linear_model import MixedLM
from statsmodels.sandbox.regression.gmm import IV2SLS

from latewood.pipeline.stats.engine.mixed import fit_random_slope
from latewood.pipeline.stats.links.staggered import Trial, contrast, estimate_of
from latewood.pipeline.stats.links.staggered_design import Spread, staggered_design
from tests.drawn_camp import Truth, drawn_trial

TESTS = (0.0, 2.0, 4.0, 6.0, 8.0, 10.0)
STARTS = (1.0, 5.0)
TRUTH = Truth(noise=0.9, per_kg=0.4, gain=(0.3, 0.1))


def trial_of(seed: int, n: int = 16, starts=STARTS) -> Trial:
    return drawn_trial(np.random.default_rng(seed), n, starts, TESTS, TRUTH)


def exposed(trial: Trial) -> np.ndarray:
    return trial.since[np.arange(len(trial.place)), trial.group[trial.place]]


def columns(trial: Trial) -> tuple[np.ndarray, np.ndarray]:
    """A level for every fortnight with its course, dependent ones left out; and own level and slope."""
    parts = np.floor(trial.weeks / 2.0)
    levels = (parts[:, None] == np.unique(parts)[None, :]).astype(float)
    both = np.column_stack([levels, trial.weeks])
    time = both if np.linalg.matrix_rank(both) == both.shape[1] else levels
    return time, np.column_stack([np.ones(len(trial.weeks)), trial.weeks / 10.0])


def covariance(trial: Trial) -> np.ndarray:
    """Of all sessions (N, N), written out."""
    time, own = columns(trial)
    fit = fit_random_slope(trial.stay, trial.value, time, own)
    same = trial.stay[:, None] == trial.stay[None, :]
    return np.where(same, own @ fit.random_cov @ own.T, 0.0) + fit.sigma**2 * np.eye(len(own))


@pytest.mark.parametrize("missing", [0.0, 0.3])
@pytest.mark.parametrize("starts", [STARTS, (0.0, 3.0, 7.0, 9.0)])
def test_what_a_week_on_plan_adds_is_generalised_least_squares_of_statsmodels(starts, missing):
    truth = replace(TRUTH, missing=missing)
    trial = drawn_trial(np.random.default_rng(21), 32, starts, TESTS, truth).usable()
    assert (len(trial.value) < 32 * len(TESTS)) == (missing > 0.0)
    time, _ = columns(trial)
    design, sigma = np.column_stack([exposed(trial), time]), covariance(trial)
    result = contrast(trial)
    for at, column in enumerate((trial.value, trial.mass)):
        fit = sm.GLS(column, design, sigma=sigma).fit()
        assert result.per_week[at] == pytest.approx(fit.params[0], rel=1e-5)


def test_output_per_kg_is_the_instrumental_estimate_of_statsmodels():
    trial = trial_of(22, 32)
    days, _ = columns(trial)
    whiten = np.linalg.cholesky(np.linalg.inv(covariance(trial))).T
    outcome = whiten @ trial.value
    regressors = whiten @ np.column_stack([trial.mass, days])
    instruments = whiten @ np.column_stack([exposed(trial), days])
    expected = IV2SLS(outcome, regressors, instruments).fit().params[0]
    assert estimate_of(contrast(trial)).per_kg == pytest.approx(expected, rel=1e-5)


def test_it_is_near_a_mixed_model_of_statsmodels_that_learns_its_own_variances():
    """The variances differ: ours come without the exposure in the mean, and are held off zero."""
    trial = trial_of(23, 60)
    days, own = columns(trial)
    design = np.column_stack([exposed(trial), days])
    fit = MixedLM(trial.value, design, groups=trial.stay, exog_re=own).fit(reml=True)
    result = contrast(trial)
    assert abs(result.per_week[0] - fit.fe_params[0]) < 0.1 * fit.bse_fe[0]


@pytest.mark.parametrize("later", [0.0, 3.0])
@pytest.mark.parametrize("k", [2, 3])
def test_chances_are_those_of_every_possible_draw(k, later):
    """2 starts, 14 athletes: 128 draws; 3 starts, 12 athletes: 1,296. The 1,999 drawn ones differ by chance only.

    `later`: half of them arrived so many weeks later, so weeks on plan do not follow from weeks of the stay.
    """
    n, starts = (14, STARTS) if k == 2 else (12, (1.0, 4.0, 7.0))
    trial = trial_of(24 + k, n, starts)
    trial = replace(trial, weeks=trial.weeks + np.where(trial.place < n // 2, later, 0.0))
    time, _ = columns(trial)
    inverse = np.linalg.inv(covariance(trial))
    every = np.array([sum(blocks, ()) for blocks in product(permutations(range(k)), repeat=n // k)])
    assert len(every) == (128 if k == 2 else 1296)
    one = estimate_of(contrast(trial))
    for column, chance in ((trial.value, one.chance_output), (trial.mass, one.chance_mass)):
        left = inverse @ sm.GLS(column, time, sigma=covariance(trial)).fit().resid
        went = np.array([(trial.since[np.arange(len(left)), d[trial.place]] * left).sum() for d in every])
        went -= went.mean()
        observed = went[(every == trial.group).all(axis=1)]
        exact = np.mean(np.abs(went) >= abs(observed[0]) * (1.0 - 1e-9))
        assert chance == pytest.approx(exact, abs=3.5 * np.sqrt(exact * (1.0 - exact) / 1999) + 1 / 2000)


def hussey_hughes(x: np.ndarray, sigma: float, tau: float) -> float:
    """Variance of the effect: x (I, T) exposure, sigma the noise of a cell, tau the SD between clusters."""
    clusters, times = x.shape
    squares, total = float((x**2).sum()), float(x.sum())
    w, v = float((x.sum(axis=0) ** 2).sum()), float((x.sum(axis=1) ** 2).sum())
    below = (clusters * squares - w) * sigma**2
    below += (total**2 + clusters * times * squares - times * w - clusters * v) * tau**2
    return clusters * sigma**2 * (sigma**2 + times * tau**2) / below


def test_the_formula_itself_on_a_wedge_worked_by_hand():
    """Three clusters, four times, one crossing at a time: U = 6, W = 14, V = 14; sigma = tau = 1: 15/(4 + 10)."""
    x = np.array([[0, 1, 1, 1], [0, 0, 1, 1], [0, 0, 0, 1]], dtype=float)
    assert hussey_hughes(x, 1.0, 1.0) == pytest.approx(
        3 * 1 * (1 + 4) / (4.0 + (36 + 72 - 56 - 42)), rel=1e-12
    )


@pytest.mark.parametrize(("sigma", "tau"), [(1.1, 0.4), (0.8, 6.0), (2.0, 1e-3)])
@pytest.mark.parametrize("starts", [(0.0, 4.0), (1.0, 3.0, 8.0), (2.0, 2.5, 7.0, 9.5)])
def test_standard_error_is_that_of_the_stepped_wedge(starts, sigma, tau):
    each, gain = 9, 0.23
    x = np.repeat(np.maximum(np.array(TESTS)[None, :] - np.array(starts)[:, None], 0.0), each, axis=0)
    own = np.diag([tau**2, 0.0])
    text = staggered_design(
        each * len(starts), starts, TESTS, per_kg=0.3, kg_per_week=gain, output=Spread(noise=sigma, own=own),
        mass=Spread(noise=0.2, own=own),
    )  # fmt: skip
    assert text.standard_error == pytest.approx(np.sqrt(hussey_hughes(x, sigma, tau)) / gain, rel=1e-9)


def test_power_is_that_of_the_stepped_wedge_with_a_crossing_from_nought_to_one():
    """Two test days a week apart, half on plan between them: exposure is 0 or 1, as in the published design."""
    n, effect = 2000, 0.3
    x = np.repeat(np.array([[0.0, 1.0], [0.0, 0.0]]), n // 2, axis=0)
    own = np.diag([36.0, 0.0])
    text = staggered_design(
        n, (0.0, 1.0), (0.0, 1.0), per_kg=effect, kg_per_week=0.5, output=Spread(noise=1.5, own=own),
        mass=Spread(noise=0.1, own=own),
    )  # fmt: skip
    size = effect * 0.5 / np.sqrt(hussey_hughes(x, 1.5, 6.0))
    published = stats.norm.cdf(size - 1.959964)
    assert 0.3 < published < 0.9
    assert text.mass_known == pytest.approx(1.0, abs=1e-12)
    assert text.power == pytest.approx(published, abs=0.002)  # t on 1,000 degrees against a normal


def test_with_own_slopes_the_standard_error_is_that_of_statsmodels():
    starts, each, gain = (0.0, 3.0, 6.0), 8, 0.25
    x = np.repeat(np.maximum(np.array(TESTS)[None, :] - np.array(starts)[:, None], 0.0), each, axis=0)
    spread = Spread(noise=1.1, own=np.array([[36.0, 0.2], [0.2, 0.04]]))
    z = np.column_stack([np.ones(len(TESTS)), TESTS])
    one = z @ np.array([[36.0, 0.2], [0.2, 0.04]]) @ z.T + 1.21 * np.eye(len(TESTS))
    design = np.column_stack([x.ravel(), np.tile(np.eye(len(TESTS)), (len(x), 1))])
    inverse = np.linalg.inv(block_diag(*[one] * len(x)))
    expected = np.sqrt(np.linalg.inv(design.T @ inverse @ design)[0, 0])
    text = staggered_design(
        each * 3,
        starts,
        TESTS,
        per_kg=0.3,
        kg_per_week=gain,
        output=spread,
        mass=Spread(noise=0.2, own=spread.own),
    )
    assert text.standard_error == pytest.approx(expected / gain, rel=1e-8)
