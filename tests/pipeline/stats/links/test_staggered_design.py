"""Power of drawn plan starts before anybody begins: against drawn camps, and what it refuses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from latewood.pipeline.stats.links.staggered import contrast, estimate_of
from latewood.pipeline.stats.links.staggered_design import ENOUGH, MOST, Spread, spread_of, staggered_design
from tests.drawn_camp import Truth, drawn_trial

TESTS = tuple(float(week) for week in range(0, 17, 2))
STARTS = (0.0, 8.0)
TRUTH = Truth(noise=0.8, per_kg=0.4, gain=(0.3, 0.1))


def design_of(n: int = 48, starts=STARTS, tests=TESTS, truth: Truth = TRUTH, **change):
    output, mass = truth.spreads()
    given = {
        "per_kg": truth.per_kg, "kg_per_week": truth.gain[0], "output": output, "mass": mass,
    } | change  # fmt: skip
    return staggered_design(n, starts, tests, **given)


@pytest.mark.slow
def test_power_is_the_share_of_drawn_camps_that_are_told() -> None:
    text, times = design_of(), 250
    result = [
        estimate_of(contrast(drawn_trial(np.random.default_rng((914_201, k)), 48, STARTS, TESTS, TRUTH)))
        for k in range(times)
    ]
    clear = np.mean([t.chance_output <= 0.05 and t.chance_mass <= 0.05 for t in result])
    assert 0.3 < text.power < 0.9
    assert clear == pytest.approx(text.power, abs=0.04 + 3.0 * (clear * (1.0 - clear) / times) ** 0.5)
    spread = np.std([t.per_kg for t in result])
    assert spread == pytest.approx(text.standard_error, rel=0.2)
    assert np.median([t.high - t.low for t in result]) == pytest.approx(text.width, rel=0.15)


def test_more_athletes_longer_waits_and_larger_numbers_are_told_sooner() -> None:
    base = design_of().power
    assert design_of(96).power > base
    assert design_of(starts=(0.0, 2.0)).power < base
    assert design_of(per_kg=0.8).power > base
    assert design_of(kg_per_week=0.1).power < base


def test_without_anything_to_tell_the_power_is_the_level_times_the_chance_that_mass_is_told() -> None:
    none = design_of(per_kg=0.0, kg_per_week=0.06)
    assert 0.1 < none.mass_known < 0.9
    assert none.power == pytest.approx(0.05 * none.mass_known, rel=1e-6)


def test_needed_is_the_first_size_in_whole_blocks_that_is_enough() -> None:
    result = design_of(starts=(0.0, 5.0, 10.0))
    assert result.needed is not None and result.needed % 3 == 0
    assert design_of(result.needed, starts=(0.0, 5.0, 10.0)).power >= ENOUGH
    assert design_of(result.needed - 3, starts=(0.0, 5.0, 10.0)).power < ENOUGH


def test_where_no_number_is_enough_none_is_named() -> None:
    assert design_of(per_kg=0.001).needed is None
    assert design_of(MOST, per_kg=0.001).power < ENOUGH


def test_tests_before_the_first_start_tell_nothing() -> None:
    none = design_of(starts=(20.0, 24.0))
    assert (none.standard_error, none.width, none.needed) == (None, None, None)
    assert none.mass_known == pytest.approx(0.05, abs=1e-9)


def test_where_mass_is_hardly_told_there_is_no_width() -> None:
    none = design_of(16, kg_per_week=0.02)
    assert none.width is None and none.standard_error is not None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"starts": (3.0, 3.0)}, "two different starts"),
        ({"tests": (2.0,)}, "two test days"),
        ({"kg_per_week": 0.0}, "a gain above 0"),
        ({"n": 15}, "15 athletes for 2 groups: 8 in each are needed"),
    ],
)
def test_what_does_not_fit_is_named(change, words) -> None:
    with pytest.raises(ValueError, match=words):
        design_of(**change)


def test_scatter_is_learned_from_tests_of_earlier_camps() -> None:
    rng = np.random.default_rng(914_202)
    n, weeks = 300, np.arange(0.0, 16.0, 2.0)
    level, slope = rng.normal(80.0, 6.0, n), rng.normal(0.1, 0.12, n)
    value = level[:, None] + slope[:, None] * weeks + rng.normal(0.0, 1.1, (n, len(weeks))) + np.log1p(weeks)
    stay = np.repeat(np.arange(n), len(weeks)).astype(object)
    result = spread_of(stay, np.tile(weeks, n), value.ravel())
    assert result.noise == pytest.approx(1.1, rel=0.06)
    assert np.sqrt(result.own[0, 0]) == pytest.approx(6.0, rel=0.12)
    assert np.sqrt(result.own[1, 1]) == pytest.approx(0.12, rel=0.12)


def test_scatter_is_not_learned_from_few_stays() -> None:
    stay, weeks = np.repeat(np.arange(15), 2).astype(object), np.tile([0.0, 2.0], 15)
    with pytest.raises(ValueError, match="14 stays with two tests, 15 are needed"):
        spread_of(stay[:-1], weeks[:-1], np.random.default_rng(1).normal(size=29))
    assert spread_of(stay, weeks, np.random.default_rng(1).normal(size=30)).noise > 0.0


def test_covariance_of_tests_is_level_slope_and_noise() -> None:
    spread = Spread(noise=2.0, own=np.array([[9.0, 0.5], [0.5, 0.25]]))
    result = spread.covariance(np.array([0.0, 4.0]))
    assert result.tolist() == [[13.0, 11.0], [11.0, 9.0 + 4.0 + 4.0 + 4.0]]
    assert replace(spread, noise=0.0).covariance(np.array([4.0])).tolist() == [[17.0]]
