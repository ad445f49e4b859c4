"""One-repetition maximum: the published formulas, evaluated from their printed coefficients."""

import numpy as np
import pytest

from latewood.pipeline.stats.links.strength import FORMULAS, one_rep_max

REPS = (2, 3, 5, 8, 10, 12)

# Load 100. Values computed by hand from the printed formulas: Epley 1985 (Poundage chart), Brzycki 1993
# (JOPERD 64(1):88-90), Lander 1985 (NSCA J 6(6):60-61), Lombardi 1989, Mayhew et al. 1992 (J Appl Sport
# Sci Res 6(4):200-206), O'Conner et al. 1989, Wathen 1994. Three decimals are kept, hence 1e-3.
EXPECTED = {
    "epley": (106.667, 110.000, 116.667, 126.667, 133.333, 140.000),
    "brzycki": (102.857, 105.882, 112.500, 124.138, 133.333, 144.000),
    "lander": (104.213, 107.197, 113.709, 125.109, 134.070, 144.414),
    "lombardi": (107.177, 111.612, 117.462, 123.114, 125.893, 128.209),
    "mayhew": (111.439, 113.990, 119.011, 126.286, 130.934, 135.398),
    "oconner": (105.0, 107.5, 112.5, 120.0, 125.0, 130.0),
    "wathen": (105.146, 108.980, 116.583, 127.671, 134.747, 141.496),
}

# 225 x 5, same sources, two decimals.
SET_OF_FIVE = {
    "epley": 262.50,
    "brzycki": 253.125,
    "lander": 255.85,
    "lombardi": 264.29,
    "mayhew": 267.77,
    "oconner": 253.125,
    "wathen": 262.31,
}


def test_every_formula_has_a_reference():
    assert set(FORMULAS) == set(EXPECTED) == set(SET_OF_FIVE)


@pytest.mark.parametrize("name", FORMULAS)
def test_formula_gives_its_printed_values(name):
    assert one_rep_max(name, 100.0, REPS) == pytest.approx(EXPECTED[name], abs=1e-3)


@pytest.mark.parametrize("name", FORMULAS)
def test_formula_gives_225_times_5(name):
    assert float(one_rep_max(name, 225.0, 5)) == pytest.approx(SET_OF_FIVE[name], abs=6e-3)


# What each formula itself says at one repetition, same sources: none of these may be stored for a single.
AT_ONE = {
    "epley": 103.333,
    "brzycki": 100.0,
    "lander": 101.390,
    "lombardi": 100.0,
    "mayhew": 108.864,
    "oconner": 102.5,
    "wathen": 101.304,
}


@pytest.mark.parametrize("name", FORMULAS)
def test_single_is_the_load_whatever_the_formula_says(name):
    raw = FORMULAS[name](np.array([100.0]), np.array([1.0]))
    assert raw == pytest.approx([AT_ONE[name]], abs=1e-3)
    assert float(one_rep_max(name, 100.0, 1)) == 100.0


def test_lines_cross_where_their_algebra_says():
    # Epley and Brzycki both give 4/3 at ten repetitions, Brzycki and O'Conner both 9/8 at five.
    assert float(one_rep_max("epley", 90.0, 10)) == pytest.approx(120.0, rel=1e-12)
    assert float(one_rep_max("brzycki", 90.0, 10)) == pytest.approx(120.0, rel=1e-12)
    assert float(one_rep_max("brzycki", 80.0, 5)) == pytest.approx(90.0, rel=1e-12)
    assert float(one_rep_max("oconner", 80.0, 5)) == pytest.approx(90.0, rel=1e-12)
