"""Peak flow of 17 people with two meters, twice each: Bland, Altman 1986, Lancet i:307-310 (l/min)."""

import numpy as np
import pytest

from latewood.pipeline.stats.change.reliability_formulas import (
    limits_of_agreement,
    repeatability,
    typical_error,
)

WRIGHT_1 = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
WRIGHT_2 = [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421]
MINI_1 = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]
MINI_2 = [525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443]


def test_limits_as_in_the_paper():
    result = limits_of_agreement(WRIGHT_1, MINI_1, multiple=2.0)
    assert (result.bias, result.sd) == pytest.approx((-2.1176471, 38.7651299), abs=1e-6)
    assert (result.lower, result.upper) == pytest.approx((-79.6, 75.4), abs=0.05)


def test_limits_at_95_percent_with_their_intervals():
    result = limits_of_agreement(WRIGHT_1, MINI_1)
    assert (result.lower, result.upper) == pytest.approx((-78.0973, 73.8620), abs=1e-4)
    assert (result.bias_low, result.bias_high) == pytest.approx((-22.0488, 17.8135), abs=1e-4)
    paper = limits_of_agreement(WRIGHT_1, MINI_1, multiple=2.0)
    assert (paper.lower_low, paper.lower_high) == pytest.approx((-114.17, -45.13), abs=0.01)
    assert (paper.upper_low, paper.upper_high) == pytest.approx((40.89, 109.93), abs=0.01)


def test_repeatability_of_both_meters():
    assert repeatability(WRIGHT_1, WRIGHT_2) == pytest.approx(43.2938, abs=1e-4)
    assert repeatability(MINI_1, MINI_2) == pytest.approx(56.3163, abs=1e-4)


def test_typical_error_of_both_meters():
    assert typical_error(WRIGHT_1, WRIGHT_2) == pytest.approx(15.3612, abs=1e-4)
    assert typical_error(MINI_1, MINI_2) == pytest.approx(20.4158, abs=1e-4)


def test_swapping_the_meters_turns_the_limits_round():
    one, other = limits_of_agreement(WRIGHT_1, MINI_1), limits_of_agreement(MINI_1, WRIGHT_1)
    assert (other.lower, other.upper) == pytest.approx((-one.upper, -one.lower))
    assert np.isclose(other.sd, one.sd)
