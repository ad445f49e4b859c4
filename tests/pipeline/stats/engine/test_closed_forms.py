"""Parts of the estimators against formulas written out by hand: what averages over many camps do not see."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from scipy.special import logit

from latewood.pipeline.stats.change.reliability import _between_athletes
from latewood.pipeline.stats.change.verdict import clear_at
from latewood.pipeline.stats.engine.line_models import LineModel
from latewood.pipeline.stats.engine.mixed import fit_random_slope
from latewood.pipeline.stats.engine.mixed_integrated import fit_integrated
from latewood.pipeline.stats.engine.mixed_sums import group_sums
from latewood.pipeline.stats.engine.multiplicity import pool
from latewood.pipeline.stats.engine.own_lines import Noise, OwnLines, moderated
from latewood.pipeline.stats.links.link_design import (
    LinkRows,
    fixed_columns,
    independent,
    own_mass_error,
    time_columns,
)
from latewood.pipeline.stats.links.mass_link import _estimate
from latewood.pipeline.stats.peers.weights import _residuals, percentile_among
from latewood.pipeline.stats.projection.fit import fit_course


def test_a_small_camps_variance_is_that_within_the_draws_and_that_between_them():
    rng = np.random.default_rng(88)
    group, weeks = np.repeat(np.arange(8), 4), np.tile([0.0, 2.0, 5.0, 9.0], 8)
    y = 80.0 + rng.normal(0.0, 4.0, 8)[group] + (0.4 + rng.normal(0.0, 0.3, 8)[group]) * weeks
    X = np.column_stack([np.ones_like(weeks), weeks])
    fit = fit_integrated(group_sums(group, y + rng.normal(0.0, 1.5, weeks.size), X, X))
    x = np.array([[0.0, 9.0]])
    one = [
        replace(
            fit,
            draws=type(fit.draws)(**{f: getattr(fit.draws, f)[k : k + 1] for f in fit.draws.__slots__}),
            weights=np.ones(1),
        ).predict_many([3], x, x)
        for k in range(len(fit.weights))
    ]
    means, variances = (np.array(part)[:, 0] for part in zip(*one, strict=True))
    mean, variance = (float(part[0]) for part in fit.predict_many([3], x, x))
    between = float(fit.weights @ (means - mean) ** 2)
    assert mean == pytest.approx(float(fit.weights @ means))
    assert variance == pytest.approx(float(fit.weights @ variances) + between)
    assert between > 0.01 * variance


def test_forms_of_time_that_disagree_widen_what_is_averaged_over_them():
    # weights 1/4 and 3/4 of 1 ± 1 and 3 ± √2: mean 2.5, variance 1.75 within and .75 between
    weighted = SimpleNamespace(weights=np.array([0.25, 0.75]))
    mean, variance = LineModel._mixed(weighted, np.array([[1.0], [3.0]]), np.array([[1.0], [2.0]]))
    assert (mean[0], variance[0]) == (pytest.approx(2.5), pytest.approx(2.5))


def test_spread_between_athletes_has_the_noise_of_their_means_taken_out():
    # Means 10, 14, 12 of 2, 2 and 4 sessions: variance 4, less 6 · (1/2 + 1/2 + 1/4) / 3 = 2.5.
    part = pd.DataFrame({
        "stay_id": ["a", "a", "b", "b", "c", "c", "c", "c"],
        "athlete_id": ["a", "a", "b", "b", "c", "c", "c", "c"],
        "cell": "",
        "day": [0, 7, 0, 7, 0, 7, 14, 21],
        "value": [9.0, 11.0, 13.0, 15.0, 11.0, 13.0, 11.5, 12.5],
    })
    assert _between_athletes(part, 6.0) == pytest.approx(1.5)
    assert _between_athletes(part, 20.0) == 0.0


def test_noise_of_one_stay_stands_between_its_own_and_the_camps():
    # Smyth 2004: (d0 s0² + RSS) / (d0 + d) with s0² = 4 · (d0 - 2) / d0, here (4 · 4 + RSS) / (6 + d).
    ones = np.ones(2)
    lines = OwnLines(
        stays=("a", "b"), n=4 * ones, start=0 * ones, end=ones, span=ones, slope=ones, change=ones,
        at_start=ones, slope_variance=ones, bridge_slope=0 * ones, residual=np.array([2.0, 24.0]),
        degrees=np.array([2.0, 4.0]),
        intake_used=np.array([True, True]),
    )  # fmt: skip
    variance, degrees = moderated(lines, Noise(variance=4.0, degrees=50.0, prior_degrees=6.0), 0.0)
    assert variance == pytest.approx([18.0 / 8.0, 40.0 / 10.0])
    assert degrees == pytest.approx([8.0, 10.0])


def rows_of_link(rng, n=20, sessions=5):
    """Sessions of athletes who answer to mass each in their own way, so that clusters matter."""
    stay = np.repeat([f"a{k:02d}" for k in range(n)], sessions).astype(object)
    codes = np.repeat(np.arange(n), sessions)
    weeks = np.tile(np.linspace(0.0, 10.0, sessions), n)
    gained = rng.normal(0.3, 0.2, n)[codes] * weeks + rng.normal(0.0, 0.4, weeks.size)
    mass = rng.normal(75.0, 8.0, n)[codes] + gained
    value = 40.0 + rng.normal(0.15, 0.6, n)[codes] * gained + rng.normal(0.0, 0.3, weeks.size)
    return LinkRows(
        athlete=stay, stay=stay, camp=np.full(weeks.size, "K", dtype=object), value=value, weeks=weeks,
        intake=(weeks == 0.0).astype(float), age=rng.normal(16.0, 1.0, n)[codes], mass=mass,
        mass_se=np.full(weeks.size, 0.2), strength=np.full(weeks.size, np.nan),
        offset_error=np.empty((weeks.size, 0)),
    )  # fmt: skip


def test_columns_of_the_link_hold_the_stays_mean_gain_beside_the_own_gain():
    rows = rows_of_link(np.random.default_rng(7))
    columns = fixed_columns(rows, time_columns("linear", rows.weeks))
    gained = rows.mass - np.repeat(rows.mass[rows.weeks == 0.0], 5)
    usual = np.repeat(gained.reshape(-1, 5).mean(axis=1), 5)
    assert columns[:, -1] == pytest.approx(gained)
    assert columns[:, -3] == pytest.approx(usual - usual.mean())
    assert columns[:, 2] == pytest.approx(rows.intake)


def test_error_of_the_link_is_the_clusters_with_its_correction_for_few_athletes():
    rows = rows_of_link(np.random.default_rng(8))
    time = time_columns("linear", rows.weeks)
    columns = fixed_columns(rows, time)
    kept = independent(columns)
    random = np.column_stack([np.ones(len(rows.value)), time[:, 0]])
    fit = fit_random_slope(rows.stay, rows.value, columns[:, kept], random)
    slope, clusters = _estimate(rows, time, own_slope=True), own_mass_error(rows, time)
    by_cluster, degrees = clusters.standard_error, clusters.degrees
    assert by_cluster > 1.03 * np.sqrt(fit.robust_cov()[-1, -1])
    assert by_cluster / np.sqrt(fit.robust_cov()[-1, -1]) == pytest.approx(slope.few, rel=1e-6)
    assert 4.0 < degrees < 19.0
    assert by_cluster > np.sqrt(fit.beta_cov[-1, -1])
    assert slope.standard_error == pytest.approx(by_cluster, rel=1e-9)
    assert slope.high - slope.per_kg == pytest.approx(stats.t.ppf(0.975, degrees) * by_cluster, rel=1e-9)


def athletes(rng, n=40):
    build = np.column_stack([rng.uniform(14, 19, n), rng.normal(175, 8, n), rng.normal(72, 9, n)])
    build[0] = [14.1, 196.0, 101.0]  # far from the others: their own value carries the mean there
    return build, rng.normal(80.0, 5.0, n)


def test_an_athletes_residual_is_off_the_mean_of_the_others_alone():
    build, value = athletes(np.random.default_rng(9))
    _, own, leverage, _ = _residuals(build, value)
    others = build[1:]
    scaled = (build - others.mean(axis=0)) / others.std(axis=0)
    design = np.column_stack([np.ones(len(build)), scaled, scaled[:, 0] ** 2, scaled[:, 2] ** 2])
    fitted = np.linalg.lstsq(design[1:], value[1:], rcond=None)[0]
    assert own[0] == pytest.approx(value[0] - design[0] @ fitted, rel=1e-9)
    assert leverage[0] > 0.5


def test_a_percentile_at_the_edge_is_as_unsure_as_the_mean_there():
    build, value = athletes(np.random.default_rng(9))
    _, own, leverage, spread = _residuals(build, value)
    result = percentile_among(build, value, 0.90)
    middle, n = result.percentile[0] / 100.0, result.n_effective[0]
    a, b = middle * (n + 1.0), (1.0 - middle) * (n + 1.0)
    jeffreys = logit(stats.beta.isf(0.05, a, b)) - logit(middle)
    from_mean = (
        stats.norm.isf(0.05)
        * np.sqrt(leverage[0] / (1.0 - leverage[0]))
        * stats.norm.pdf(own[0] / spread)
        / (middle * (1.0 - middle))
    )
    assert logit(result.high[0] / 100.0) - logit(middle) == pytest.approx(np.hypot(jeffreys, from_mean))
    assert from_mean > 0.2 * jeffreys


def test_two_camps_are_pulled_towards_each_other_by_the_share_of_noise():
    # 0 and 4 with variance 1 each: Q = 8 / (1 + τ²) = 1, so τ² = 7 and an eighth of the way to the mean.
    pooled = pool([0.0, 4.0], [1.0, 1.0])
    assert pooled.spread_variance == pytest.approx(7.0)
    assert pooled.shrunk == pytest.approx([0.25, 3.75])


@pytest.mark.parametrize(("sessions", "planned"), [(2, 3), (4, 4), (4, 7), (4, 40)])
def test_the_first_look_spends_its_part_of_the_error_rate(sessions, planned):
    # .05 times the share of looks to the power of 3/2, of planned - 3 looks
    part = 0.05 / max(planned - 3, 1) ** 1.5
    assert clear_at(sessions, planned) == pytest.approx(stats.norm.isf(part / 2.0), abs=1e-6)


def test_more_sessions_than_planned_are_looked_at_as_the_last_planned():
    assert clear_at(9, 7) == clear_at(9, 9) and clear_at(60, 80) == clear_at(40, 40)


def test_a_projection_is_for_a_new_session_and_holds_its_noise():
    rng = np.random.default_rng(10)
    stay, weeks = np.repeat(np.arange(45), 4), np.tile([0.0, 2.0, 5.0, 9.0], 45)  # enough stays to plug in
    sessions = pd.DataFrame({
        "stay_id": stay,
        "t": weeks,
        "first": weeks == 0.0,
        "value": 80.0 + rng.normal(0.0, 4.0, 45)[stay] + 0.4 * weeks + rng.normal(0.0, 1.5, weeks.size),
    })
    course = fit_course(sessions, "linear")
    mean, sd = course.predict([3], np.array([12.0]))
    same, level_sd = course.predict([3], np.array([12.0]), new_session=False)
    assert mean == pytest.approx(same)
    assert sd[0] ** 2 - level_sd[0] ** 2 == pytest.approx(course.fit.sigma**2)
