"""Strength to output against a planted .04 mph per kg, against the test of the day, and its refusals."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links.link_design import carry, link_rows
from latewood.pipeline.stats.links.strength_carries import beside_mass_link
from latewood.pipeline.stats.links.strength_design import Prepared, fit_strength
from latewood.pipeline.stats.links.strength_link import strength_links
from latewood.pipeline.stats.links.strength_trend import fit_strength_trend
from tests.camps import EXIT_SPEED, MPH, STRENGTH, simulate_camp

MEASURES = load_catalogue().measures
PLANTED = 0.04
BY_STRENGTH = replace(EXIT_SPEED, per_kg=0.0, per_kg_sd=0.0, per_strength=PLANTED * MPH)


def found_in(camp, sessions=None):
    values = camp.session_values if sessions is None else sessions
    links, carried = strength_links(values, camp.mass_trend, camp.people, MEASURES, STRENGTH, ())
    by = {k.adjustment: k for k in links}
    return by["time"], by["time and mass"], carried[0]


def same_day(camp):
    """The wrong way: the same model on the test of the day (straight lines between tests)."""
    inside = comparable_sessions(camp.session_values, MEASURES)
    tests, rows = inside[inside["measure"] == STRENGTH], inside[inside["measure"] != STRENGTH]
    trend = strength_trend_of(camp)
    near = carry(tests, rows, ("value",), day="held_on", within_days=28)[:, 0]
    known = np.isfinite(near)
    part = link_rows(
        rows[known].reset_index(drop=True), camp.mass_trend, camp.people, tests.iloc[:0], mass_needed=False
    )
    ready = Prepared(rows=part, strength=near[known], trend=trend, adjustment="time", form="log")
    return fit_strength(ready)


def strength_trend_of(camp):
    inside = comparable_sessions(camp.session_values, MEASURES)
    tests = inside[inside["measure"] == STRENGTH].reset_index(drop=True)
    rows = link_rows(tests, camp.mass_trend, camp.people, tests.iloc[:0])
    return fit_strength_trend(rows, np.zeros(len(rows.value)), with_mass=False)


@pytest.fixture(scope="module")
def studied():
    """24 camps of 60 with a planted .04 mph per kg of strength and nothing for mass itself; mph per kg."""
    rng = np.random.default_rng(8101)
    table = []
    for _ in range(24):
        camp = simulate_camp(rng, n=60, process=BY_STRENGTH, weigh=False)
        alone, joint, carried = found_in(camp)
        table.append({
            "alone": alone.per_kg / MPH,
            "low": alone.low / MPH,
            "high": alone.high / MPH,
            "joint": np.nan if joint.per_kg is None else joint.per_kg / MPH,
            "same day": float(same_day(camp).fit.beta[-1]) / MPH,
            "carries": carried.verdict,
        })
    return pd.DataFrame(table)


@pytest.mark.slow
def test_planted_strength_is_found_and_the_test_of_the_day_loses_much_of_it(studied):
    # SD over camps is about .04, so .025 is three standard errors of the mean
    assert studied["alone"].mean() == pytest.approx(PLANTED, abs=0.025)
    assert studied["joint"].mean() == pytest.approx(PLANTED, abs=0.04)
    assert studied["same day"].mean() < 0.75 * studied["alone"].mean()


@pytest.mark.slow
def test_interval_holds_the_planted_value(studied):
    assert (studied["low"].lt(PLANTED) & studied["high"].gt(PLANTED)).mean() >= 0.83


@pytest.mark.slow
def test_small_shares_are_not_ranked(studied):
    assert studied["carries"].isin(["is not known", "refused"]).mean() >= 0.8


@pytest.mark.parametrize(
    ("process", "verdict"),
    [
        (replace(EXIT_SPEED, per_kg=1.2 * MPH, per_strength=0.0), "mass"),
        (replace(EXIT_SPEED, per_kg=0.0, per_kg_sd=0.0, per_strength=0.6 * MPH), "strength"),
    ],
)
def test_what_carries_nearly_all_is_told(process, verdict):
    camp = simulate_camp(np.random.default_rng(77), n=150, process=process, weigh=False)
    carried = found_in(camp)[2]
    assert carried.verdict == verdict
    without = beside_mass_link(carried, "no link of mass")
    assert (without.verdict, without.reason, without.mass_share) == ("refused", "no link of mass", None)
    assert beside_mass_link(carried, "") == carried
    assert carried.difference_low > 0 if verdict == "mass" else carried.difference_high < 0
    usual = {"mass": carried.mass_share / carried.mass_gain_sd, "strength": carried.strength_share}
    planted = {"mass": 1.2 * MPH, "strength": 0.6 * MPH * carried.strength_gain_sd}
    assert usual[verdict] == pytest.approx(planted[verdict], rel=0.3)


def test_few_athletes_are_refused():
    camp = simulate_camp(np.random.default_rng(3), n=12, weigh=False)
    alone, joint, carried = found_in(camp)
    assert (alone.verdict, alone.per_kg, alone.low) == ("refused", None, None)
    assert "15 are needed" in alone.reason
    assert carried.verdict == "refused"
    assert carried.reason == joint.reason


@pytest.mark.slow
def test_strength_that_is_mostly_test_error_is_refused():
    result = []
    for seed in range(6):
        camp = simulate_camp(np.random.default_rng((4, seed)), n=40, strength_test_sd=40.0, weigh=False)
        result.append(found_in(camp)[0])
    assert {k.verdict for k in result} == {"refused"}
    assert all("mostly test error" in k.reason and k.reliability < 0.35 for k in result)


def on_one_course(camp, spread):
    """The camp with strength that everybody gains on one course but for a spread of rates."""
    values = camp.session_values
    own = np.random.default_rng(9).normal(8.0, spread, values["stay_id"].nunique())
    rate = own[pd.factorize(values["stay_id"])[0]]
    level = 100.0 + 10.0 * (pd.factorize(values["stay_id"])[0] % 7)
    lifted = values["measure"] == STRENGTH
    course = level + rate * np.log1p(values["weeks"] / 3.0)
    return values.assign(value=np.where(lifted, course, values["value"]))


def test_strength_that_all_gain_on_one_course_is_refused():
    camp = simulate_camp(np.random.default_rng(5), n=60, weigh=False)
    alone = found_in(camp, on_one_course(camp, 0.3))[0]
    assert alone.verdict == "refused"
    assert alone.reason == "strength and time in the program rose together and cannot be separated"
    assert found_in(camp, on_one_course(camp, 4.0))[0].verdict != "refused"


def test_without_strength_tests_there_is_no_link_and_a_reason():
    camp = simulate_camp(np.random.default_rng(6), n=40, weigh=False)
    only = camp.session_values[camp.session_values["measure"] != STRENGTH]
    alone, _, carried = found_in(camp, only)
    assert (alone.verdict, alone.n_tests) == ("refused", 0)
    assert carried.reason == "too few stays with two strength tests"


def test_without_body_mass_strength_alone_is_still_estimated():
    camp = simulate_camp(np.random.default_rng(7), n=60, weigh=False)
    links, carried = strength_links(
        camp.session_values, camp.mass_trend.iloc[:0], camp.people, MEASURES, STRENGTH, ()
    )
    assert [k.verdict == "refused" for k in links] == [False, True]
    assert carried[0].verdict == "refused"


def test_the_interval_counts_that_the_correction_is_an_estimate():
    camp = simulate_camp(np.random.default_rng(8), n=60, process=BY_STRENGTH, weigh=False)
    fit, trend = same_day(camp), strength_trend_of(camp)
    at = np.eye(len(fit.fit.beta))[-1]
    known = max(fit.fit.beta_cov[-1, -1], fit.robust[-1, -1])
    by_hand = (
        fit.fit.beta[-1] * (1 - trend.reliability) / trend.reliability * np.sqrt(2 / (trend.fit.n_groups - 1))
    )
    assert fit.variance(at) - known == pytest.approx(by_hand**2, rel=1e-6)
    assert by_hand**2 > 0
