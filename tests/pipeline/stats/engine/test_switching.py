"""A mass that moves or is held: each mode against statsmodels, both together against every path of modes."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from scipy.stats import norm
from statsmodels.tsa.statespace.kalman_smoother import KalmanSmoother

from latewood.pipeline.stats.engine.kalman import (
    DAMPING,
    MassVariances,
    Weighed,
    log_density,
    predict,
    run_filter,
    terms_of,
    update,
)
from latewood.pipeline.stats.engine.switching import (
    HANDOVER_DAYS,
    HELD,
    HELD_AT_FIRST,
    MOVING,
    Handover,
    Mixture,
    Modes,
    Wanted,
    forecast_modes,
    level_of,
    pace_of,
    run_switching,
)

NOISE = MassVariances(
    level_sd=0.08, rate_sd=0.01, water_sd=0.5, persistence=0.6, reading_sd=0.3, start_rate=0.4, start_rate_sd=0.3
)  # fmt: skip
RARELY = Handover(hold=0.03, restart=0.2)
NONE = (np.asarray(0.0), np.asarray(0.0))


def course(rng, days, rate, stays=4):
    """Weigh-ins on five mornings a week of athletes with a rate by day, kg a week."""
    mass = 72.0 + np.cumsum(np.broadcast_to(rate, (stays, days)) / 7.0, axis=1).T
    readings = np.ones((days, stays), dtype=np.int64)
    readings[np.arange(days) % 7 > 4] = 0
    readings[3, -1] = 2
    return Weighed(mass + rng.normal(0.0, 0.5, (days, stays)), readings)


def by_statsmodels(kg, readings, drive, mark=None):
    """One stay in one mode, in statsmodels' state-space code; with `mark` a fourth state keeps that day's level."""
    v, n = NOISE, 3 if mark is None else 4
    model = KalmanSmoother(k_endog=1, k_states=n, k_posdef=3)
    model.bind(np.where(readings > 0, kg, np.nan)[:, None].copy())
    model["design"] = np.array([[1.0, 0.0, 1.0, 0.0][:n]])
    step = np.array([[1, drive / 7, 0], [0, DAMPING, 0], [0, 0, v.persistence]])
    if mark is None:
        model["transition"] = step
    else:
        steps = np.zeros((4, 4, len(kg)))
        steps[:3, :3], steps[3, 3], steps[3, :, mark] = step[:, :, None], 1.0, [1.0, 0.0, 0.0, 0.0]
        model["transition"] = steps
    model["selection"] = np.eye(n)[:, :3]
    model["state_cov"] = np.diag([v.level_sd**2, v.rate_sd**2, v.water_sd**2 * (1 - v.persistence**2)])
    model["obs_cov"] = (v.reading_sd**2 / np.maximum(readings, 1))[None, None, :].astype(float)
    model.initialize_known(
        np.array([kg[0], v.start_rate, 0, 0][:n]),
        np.diag([20.0**2, v.start_rate_sd**2, v.water_sd**2, 0.0][:n]),
    )
    return model.smooth()


def test_each_mode_alone_is_what_statsmodels_makes_of_it():
    weighed = course(np.random.default_rng(1), 35, 0.4)
    (modes,), total = run_switching(weighed, weighed.kg[0], terms_of(NOISE), NONE, Wanted(np.array([34])))
    for stay in range(4):
        theirs = [by_statsmodels(weighed.kg[:, stay], weighed.readings[:, stay], d) for d in (1.0, 0.0)]
        for mode, one in zip((MOVING, HELD), theirs, strict=True):
            assert np.abs(modes.mean[:, mode, stay] - one.filtered_state[:, -1]).max() < 1e-8
            assert np.abs(modes.cov[:, :, mode, stay] - one.filtered_state_cov[:, :, -1]).max() < 1e-8
        likely = np.log([1.0 - HELD_AT_FIRST, HELD_AT_FIRST]) + [one.llf for one in theirs]
        assert total[stay] == pytest.approx(np.logaddexp(*likely), abs=1e-8)
        assert modes.weight[HELD, stay] == pytest.approx(np.exp(likely[1] - total[stay]), abs=1e-8)


def test_the_rate_of_the_last_weeks_is_what_statsmodels_makes_of_a_state_that_keeps_the_level():
    weighed = course(np.random.default_rng(7), 35, 0.4)
    (modes,), _ = run_switching(
        weighed, weighed.kg[0], terms_of(NOISE), NONE, Wanted(np.array([34]), np.array([13, 13, 20, 0]))
    )
    for stay, mark in enumerate((13, 13, 20, 0)):
        for mode, drive in ((MOVING, 1.0), (HELD, 0.0)):
            kept = by_statsmodels(weighed.kg[:, stay], weighed.readings[:, stay], drive, mark)
            far = np.array([1.0, 0.0, 0.0, -1.0])
            weeks = (34 - mark) / 7
            pace = pace_of(modes, 34.0 - np.array([13, 13, 20, 0]))
            assert pace.mean[mode, stay] == pytest.approx(far @ kept.filtered_state[:, -1] / weeks, abs=1e-7)
            sd = np.sqrt(far @ kept.filtered_state_cov[:, :, -1] @ far) / weeks
            assert pace.sd[mode, stay] == pytest.approx(sd, abs=1e-7)


def test_a_smoother_goes_through_a_hold_as_statsmodels_does():
    weighed = course(np.random.default_rng(2), 20, 0.0, stays=1)
    still = terms_of(NOISE)._replace(drive=np.asarray(0.0))
    ours = run_filter(weighed, weighed.kg[0], still)
    theirs = by_statsmodels(weighed.kg[:, 0], weighed.readings[:, 0], 0.0)
    assert np.abs(ours.after[:, :, 0].T - theirs.filtered_state).max() < 1e-8


def every_path(weighed, handover):
    """Log-likelihood, chance of a hold now and mean rate since day 41 of each stay, over every path of weekly modes."""
    days, stays = weighed.kg.shape
    paths = np.array(list(product((MOVING, HELD), repeat=-(-days // HANDOVER_DAYS))))
    chance = np.array([[1.0 - handover.hold, handover.hold], [handover.restart, 1.0 - handover.restart]])
    prior = np.where(paths[:, 0] == HELD, HELD_AT_FIRST, 1.0 - HELD_AT_FIRST)
    prior = prior * chance[paths[:, :-1], paths[:, 1:]].prod(axis=1)
    mean, cov = np.zeros((4, len(paths), stays)), np.zeros((4, 4, len(paths), stays))
    mean[0], mean[1] = weighed.kg[0], NOISE.start_rate
    cov[0, 0], cov[1, 1], cov[2, 2] = 20.0**2, NOISE.start_rate_sd**2, NOISE.water_sd**2
    likely = np.repeat(np.log(prior)[:, None], stays, axis=1)
    for day in range(days):
        if day:
            before = 1.0 - paths[:, [(day - 1) // HANDOVER_DAYS]]
            mean, cov = predict(mean, cov, terms_of(NOISE)._replace(drive=before))
        mean, cov, surprise, variance = update(
            mean, cov, weighed.kg[day], weighed.readings[day], terms_of(NOISE)
        )
        likely += log_density(surprise, variance)
        if day == 41:
            mean[3], cov[3], cov[:, 3] = mean[0], cov[0], cov[:, 0]
            cov[3, 3] = cov[0, 0]
    evidence = np.logaddexp.reduce(likely, axis=0)
    share, held = np.exp(likely - evidence), paths[:, -1] == HELD
    return evidence, share[held].sum(axis=0), (share * (mean[0] - mean[3])).sum(axis=0) / 3


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_both_modes_together_are_near_the_sum_over_every_path(seed):
    """Nine weeks, 512 paths: what a mixture of one normal state per mode loses is small."""
    week = np.arange(63) // 7
    weighed = course(np.random.default_rng(seed), 63, np.where(week < 4, 0.6, 0.0), stays=12)
    (modes,), total = run_switching(
        weighed, weighed.kg[0], terms_of(NOISE), (np.asarray(RARELY.hold), np.asarray(RARELY.restart)),
        Wanted(np.array([62]), np.full(12, 41)),
    )  # fmt: skip
    evidence, held, rate = every_path(weighed, RARELY)
    assert np.abs(total - evidence).max() < 0.25
    assert np.abs(modes.weight[HELD] - held).max() < 0.06
    assert np.abs(pace_of(modes, np.full(12, 21.0)).centre() - rate).max() < 0.03
    assert held.max() > 0.4 and held.min() < 0.3


def test_a_forecast_is_what_simulated_holds_and_restarts_come_to():
    rng, n = np.random.default_rng(6), 40_000
    modes = Modes(
        np.array([[0.4], [0.6]]),
        np.array([[[73.0], [73.2]], [[0.35], [0.30]], [[0.0], [0.0]]]),
        np.zeros((3, 3, 2, 1)) + (np.diag([0.2**2, 0.1**2, 0.25]))[:, :, None, None],
    )
    held = rng.random(n) < 0.6
    level = np.where(held, 73.2, 73.0) + rng.normal(0, 0.2, n)
    rate = np.where(held, 0.30, 0.35) + rng.normal(0, 0.1, n)
    for day in range(1, 43):
        level = level + np.where(held, 0.0, rate / 7.0) + rng.normal(0, NOISE.level_sd, n)
        rate = DAMPING * rate + rng.normal(0, NOISE.rate_sd, n)
        if day % HANDOVER_DAYS == 0:
            change = rng.random(n)
            held = np.where(held, change >= RARELY.restart, change < RARELY.hold)
    ahead = forecast_modes(modes, np.array([42]), NOISE, RARELY)
    assert ahead.centre()[0] == pytest.approx(level.mean(), abs=0.02)
    assert ahead.spread()[0] == pytest.approx(level.std(), abs=0.02)
    for limit in (73.0, 73.8, 74.6, 75.2):
        assert ahead.below(np.array([limit]))[0] == pytest.approx((level < limit).mean(), abs=0.025)
    now = forecast_modes(modes, np.array([0]), NOISE, RARELY)
    assert now.centre()[0] == level_of(modes).centre()[0]


def test_quantiles_of_a_mixture_are_its_shares():
    one = Mixture(np.array([[0.7], [0.3]]), np.array([[0.4], [0.0]]), np.array([[0.1], [0.06]]))
    for share in (0.025, 0.3, 0.5, 0.975):
        assert one.below(one.quantile(share))[0] == pytest.approx(share, abs=1e-9)
    alone = Mixture(np.array([[1.0], [0.0]]), np.array([[0.4], [0.0]]), np.array([[0.1], [0.06]]))
    assert alone.quantile(0.975)[0] == pytest.approx(norm.ppf(0.975, 0.4, 0.1), abs=1e-9)
    assert alone.spread()[0] == pytest.approx(0.1)
