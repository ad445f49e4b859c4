"""The light normal distribution against scipy.stats.norm."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from latewood.pipeline.stats.engine.later import stats as later
from latewood.pipeline.stats.engine.normal import norm

X = np.linspace(-9.0, 9.0, 181)
SCALE = np.geomspace(1e-6, 1e3, 181)


@pytest.mark.parametrize("name", ["cdf", "sf"])
def test_chances_are_those_of_scipy_to_the_bit(name) -> None:
    ours, theirs = getattr(norm, name), getattr(stats.norm, name)
    assert np.array_equal(ours(X, loc=0.3, scale=SCALE), theirs(X, loc=0.3, scale=SCALE))
    assert ours(0.7) == theirs(0.7)


@pytest.mark.parametrize("name", ["ppf", "isf"])
def test_quantiles_are_those_of_scipy_to_the_bit(name) -> None:
    share = np.array([0.0, 1e-12, 0.025, 0.5, 0.8, 0.975, 1.0])
    assert np.array_equal(getattr(norm, name)(share), getattr(stats.norm, name)(share))


def test_the_density_is_that_of_scipy() -> None:
    assert np.array_equal(norm.pdf(X), stats.norm.pdf(X))


def test_no_spread_gives_no_chance_and_no_warning() -> None:
    with np.errstate(all="raise"):
        ours = norm.sf(np.array([1.0]), loc=0.0, scale=np.array([0.0]))
    with np.errstate(all="ignore"):
        assert np.array_equal(
            ours, stats.norm.sf(np.array([1.0]), loc=0.0, scale=np.array([0.0])), equal_nan=True
        )
    assert np.isnan(ours).all()


def test_what_is_brought_in_later_is_the_module_itself() -> None:
    assert later.t is stats.t
