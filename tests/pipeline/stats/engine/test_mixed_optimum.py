"""Plain REML ends at the lowest deviance, not on the ridge where a random effect is zero."""

import numpy as np
import pytest

from latewood.pipeline.stats.engine.mixed import fit_random_slope


def camp(seed, stays=20, sessions=12):
    """Levels that differ much, rates that differ little, time centred: where the ridge is broad."""
    rng = np.random.default_rng(seed)
    g = np.repeat([f"a{k:03d}" for k in range(stays)], sessions)
    t = np.tile(np.arange(sessions) * 0.7, stays) + rng.integers(0, 3, stays * sessions) / 7.0
    level, rate = (
        np.repeat(rng.normal(0.0, 4.0, stays), sessions),
        np.repeat(rng.normal(0.4, 0.15, stays), sessions),
    )
    y = level + rate * t + rng.normal(0.0, 1.0, t.size)
    X = np.column_stack([np.ones_like(t), t - t.mean()])
    return g, y, X


@pytest.mark.parametrize("seed", range(12))
def test_no_other_fit_has_a_lower_plain_deviance(seed):
    g, y, X = camp(seed)
    plain = fit_random_slope(g, y, X, X, penalised=False)
    # the penalised optimum is one point of those that plain REML searches
    assert plain.converged
    assert plain.criterion <= fit_random_slope(g, y, X, X).criterion + 1e-9
    assert np.all(np.diag(plain.L) >= 0.0)


def test_shifting_time_moves_the_level_only():
    g, y, X = camp(3)
    shifted = X + np.array([0.0, 5.0])
    one, other = (fit_random_slope(g, y, x, x, penalised=False) for x in (X, shifted))
    assert other.criterion == pytest.approx(one.criterion, abs=1e-7)
    assert other.beta[1] == pytest.approx(one.beta[1], abs=1e-7)
    assert other.beta[0] == pytest.approx(one.beta[0] - 5.0 * one.beta[1], abs=1e-6)
