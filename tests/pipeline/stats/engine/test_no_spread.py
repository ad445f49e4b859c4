"""Values without any spread: each share of it is a number, and nothing warns."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.engine.mixed import Optimum, assemble, profile_at
from latewood.pipeline.stats.engine.mixed_integrated import fit_integrated
from latewood.pipeline.stats.engine.mixed_sums import group_sums
from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links import mass_link
from latewood.pipeline.stats.links.relative_strength import relative_strengths
from latewood.pipeline.stats.peers.weights import percentile_among
from latewood.pipeline.stats.plans.weighin import mass_trends
from latewood.pipeline.stats.projection.fit import choose_course
from tests.degenerate import Asked, frames

LEVEL = 0.95


@pytest.mark.parametrize("seed", range(12))
def test_a_forecast_of_sessions_on_the_stays_own_course_has_no_negative_variance(seed: int) -> None:
    rng = np.random.default_rng(seed)
    stays, days = int(rng.integers(4, 12)), int(rng.choice([2, 5]))
    levels = rng.choice([0.0, 1.0, 3.5, 1e4, 1e7], size=stays)
    stay, weeks = np.repeat(np.arange(stays), days), np.tile(np.arange(days, dtype=float), stays)
    value = np.repeat(levels, days) + rng.choice([0.1, 40.0]) * (1 + stay % 3) * np.log1p(weeks)
    columns = np.column_stack([np.ones_like(weeks), np.log1p(weeks)])
    fit = fit_integrated(group_sums(stay, value, columns, columns))
    ahead = np.column_stack([np.ones(stays + 1), np.full(stays + 1, np.log1p(9.0))])
    for one in (fit, fit.mode):
        for new in (False, True):
            _, variance = one.predict_many([*range(stays), "new"], ahead, ahead, new_session=new)
            assert (variance >= 0.0).all(), variance.min()


@pytest.mark.parametrize("size", [1e3, 1e6, 1e8])
@pytest.mark.parametrize("stays", [4, 8])
def test_variances_hold_where_the_stays_differ_and_their_sessions_do_not(size: float, stays: int) -> None:
    """Alike stays: cov(b) = sigma**2 (L L' + (Z'Z)^-1) / G; Swamy 1970, Econometrica 38(2):311-323."""
    stay, weeks = np.repeat(np.arange(stays), 2), np.tile([0.0, 1.0], stays)
    columns = np.column_stack([np.ones_like(weeks), np.log1p(weeks)])
    sums = group_sums(stay, 3.5 * stay + 40.0 * (1 + stay % 3) * np.log1p(weeks), columns, columns)
    factor = np.array([[size, 0.0], [size / 2, size]])
    optimum = Optimum(factor=factor, converged=True, penalised=True)
    fit = assemble(sums, np.ones(2), optimum, profile_at(sums, factor))
    own = np.linalg.inv(columns[:2].T @ columns[:2])
    expected = fit.sigma**2 * (factor @ factor.T + own) / stays
    assert fit.beta_cov == pytest.approx(expected, rel=1e-6)
    _, variance = fit.predict_many(["new"], [[1.0, 1.7]], [[1.0, 1.7]])
    assert variance[0] > 0.0


def test_strength_that_follows_its_own_line_exactly_says_nothing_about_test_error() -> None:
    strength = pd.DataFrame({"stay_id": ["a"] * 4 + ["b"] * 4, "t": [0.0, 1.0, 2.0, 3.0] * 2, "value": 0.0})
    assert mass_link._strength_reliability(strength, 2.0) == 0.0


def test_peers_of_one_build_and_one_value_stand_in_the_middle() -> None:
    build = np.tile([15.3, 1.7321, 70.1], (40, 1))
    standing = percentile_among(build, np.full(40, 31.7), LEVEL, noise=np.full(40, 0.4))
    assert np.allclose(standing.percentile, 50.0)
    assert np.isfinite(standing.low).all()
    assert np.isfinite(standing.high).all()


def test_a_build_that_differs_by_rounding_only_is_one_build() -> None:
    rng = np.random.default_rng(5)
    value, build = rng.normal(30.0, 2.0, 40), np.tile([15.3, 1.7, 70.1], (40, 1))
    rounded = build * (1.0 + rng.choice([0.0, 1e-16, -1e-16, 2.3e-16], size=build.shape))
    same, other = percentile_among(build, value, LEVEL), percentile_among(rounded, value, LEVEL)
    assert np.allclose(same.percentile, other.percentile, atol=1e-6)


def test_held_out_sessions_on_the_course_need_no_widening() -> None:
    sessions = frames(Asked(athletes=24, camps=3)).sessions
    sessions = comparable_sessions(sessions, load_catalogue().measures).query("measure == 'exit_speed'")
    choice = choose_course(sessions, set(sessions["stay_id"]))
    assert choice.widen == pytest.approx(1.0)


def test_a_load_no_larger_than_its_test_error_has_no_relative_change() -> None:
    requested = frames(Asked(values="noisy", mass="noisy", scale=1e-6))
    trend = mass_trends(requested.weighins).trend
    rows = relative_strengths(requested.sessions, trend, load_catalogue().measures, [])
    assert rows
    for row in rows:
        assert row.verdict == "refused"
        assert row.reason == "the typical error of a test is as large as the load"
