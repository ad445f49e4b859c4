"""Measurement errors of lines: what they are taken from, and whether they are right."""

from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.reliability_formulas import minimal_change

SESSION_SD = 1.622  # of the simulated camps: day 1.2, and the median of 5 to 10 trials with mishits


def only(results):
    (result,) = results
    return result


def errors_of(frame, measure):
    return measurement_errors(frame, {measure.key: measure})


@pytest.mark.slow
def test_typical_error_is_found_and_its_interval_holds_it(simulated_camp, a_measure):
    result = [
        only(errors_of(simulated_camp(seed, n=40, bad_intake=0.0, learning=0.6).sessions, a_measure()))
        for seed in range(2_640_000, 2_640_100)
    ]
    pooled = np.sqrt(np.mean([r.typical_error**2 for r in result]))
    held = np.mean([r.low < SESSION_SD < r.high for r in result])
    assert pooled == pytest.approx(SESSION_SD, rel=0.03)
    # mishits make the values heavier-tailed than the chi-square interval assumes
    assert held >= 0.86, held
    assert all(r.basis == "own repeats" and r.degrees > 90.0 for r in result)


def test_it_is_more_than_the_error_of_a_mean_of_trials(simulated_camp, a_measure):
    camp = simulated_camp(2_641_000, n=40)
    result = only(errors_of(camp.sessions, a_measure()))
    within_a_day = result.trial_sd / np.sqrt(camp.sessions["n_trials"].mean())
    assert result.trial_sd > 2.3
    assert result.typical_error > 1.1 * within_a_day


def test_minimal_changes_follow_from_the_typical_error(simulated_camp, a_measure):
    r = only(errors_of(simulated_camp(2_641_000, n=40).sessions, a_measure()))
    beyond = stats.t.ppf(0.975, r.degrees)
    assert r.minimal_change_one == pytest.approx(beyond * np.sqrt(2.0) * r.typical_error)
    assert r.minimal_change_three == pytest.approx(beyond * np.sqrt(4.0 / 3.0) * r.typical_error)
    declared = only(errors_of(simulated_camp(2_641_100, n=6, weeks=(0.0,)).sessions, a_measure()))
    assert declared.minimal_change_one == pytest.approx(2.228 * np.sqrt(2.0) * 1.6, rel=1e-3)


@pytest.mark.slow
def test_noise_passes_the_minimal_change_once_in_twenty_with_few_repeats(simulated_camp, a_measure):
    # eight athletes, three sessions: about ten degrees of freedom
    rng = np.random.default_rng(2_641_200)
    passed, by_normal = [], []
    for seed in range(2_641_300, 2_641_700):
        camp = simulated_camp(seed, n=8, weeks=(0.0, 3.0, 6.0), bad_intake=0.0, missing=0.0)
        frame = camp.sessions.assign(value=80.0 + rng.normal(0.0, 1.6, len(camp.sessions)), is_intake=False)
        r = only(errors_of(frame, a_measure(typical_error=None)))
        change = np.abs(rng.normal(0.0, 1.6 * np.sqrt(2.0), 50))
        passed.append(np.mean(change > r.minimal_change_one))
        by_normal.append(np.mean(change > minimal_change(r.typical_error)))
    assert 0.04 <= np.mean(passed) <= 0.06, np.mean(passed)
    assert np.mean(by_normal) > 0.07, np.mean(by_normal)


def test_spread_between_athletes_is_free_of_noise(simulated_camp, a_measure):
    # levels have an SD of 6 mph, and slopes add to it over ten weeks
    r = only(errors_of(simulated_camp(2_642_000, n=200).sessions, a_measure()))
    assert r.smallest_worthwhile == pytest.approx(0.2 * 6.2, rel=0.12)
    assert r.icc == pytest.approx(6.2**2 / (6.2**2 + 1.7**2), abs=0.03)


def boys_and_girls(simulate, seed, n=60):
    """Sessions of a camp of both sexes, the girls 12 mph lower, and who they are."""
    camp = simulate(seed, n=n)
    sex = ["female" if i % 3 == 0 else "male" for i in range(n)]
    people = pd.DataFrame({"athlete_id": camp.ids, "sex": sex, "sport": "baseball"})
    low = camp.sessions["athlete_id"].map(dict(zip(camp.ids, sex, strict=True))) == "female"
    return camp.sessions.assign(value=camp.sessions["value"] - 12.0 * low), people


def test_spread_between_athletes_is_that_within_a_sex_and_sport(simulated_camp, a_measure):
    frame, people = boys_and_girls(simulated_camp, 2_642_100, n=200)
    measures = {"exit_speed": a_measure()}
    pooled = only(measurement_errors(frame, measures))
    within = only(measurement_errors(frame, measures, people))
    assert within.smallest_worthwhile == pytest.approx(0.2 * 6.2, rel=0.12)
    assert pooled.smallest_worthwhile > 1.25 * within.smallest_worthwhile
    assert pooled.icc > within.icc + 0.015
    assert within.typical_error == pooled.typical_error
    # an athlete without a record is a cell of its own, not an error
    fewer = only(measurement_errors(frame, measures, people.iloc[1:]))
    assert fewer.smallest_worthwhile == pytest.approx(within.smallest_worthwhile, rel=0.02)


def test_a_returning_athlete_is_not_two_athletes(simulated_camp, a_measure):
    frame = simulated_camp(2_642_200, n=10).sessions
    again = frame.assign(
        stay_id=frame["stay_id"] + "2",
        session_id=frame["session_id"] + "2",
        held_on=[d + timedelta(days=400) for d in frame["held_on"]],
    )
    once, twice = (only(errors_of(f, a_measure())) for f in (frame, pd.concat([frame, again])))
    between = [(r.smallest_worthwhile / 0.2) ** 2 for r in (once, twice)]
    assert between[0] == pytest.approx(between[1], rel=0.01)


def test_two_baseline_days_alone_give_an_error_without_the_learning(simulated_camp, a_measure):
    camp = simulated_camp(2_643_000, n=150, weeks=(0.0, 0.2), bad_intake=0.0, learning=3.0)
    r = only(errors_of(camp.sessions, a_measure()))
    assert r.method.startswith("differences of two days")
    assert r.typical_error == pytest.approx(SESSION_SD, rel=0.12)
    assert r.degrees > 100.0


def test_few_repeats_are_pulled_to_the_catalogue(simulated_camp, a_measure):
    frame = simulated_camp(2_644_000, n=5).sessions
    low, high = (only(errors_of(frame, a_measure(typical_error=e))) for e in (0.5, 5.0))
    alone = only(errors_of(frame, a_measure(typical_error=None)))
    assert (low.basis, high.basis, alone.basis) == ("shrunk to the measure",) * 2 + ("own repeats",)
    assert low.typical_error < alone.typical_error < high.typical_error
    assert low.degrees == pytest.approx(alone.degrees + 10.0)


def test_few_repeats_are_pulled_to_the_other_lines_before_the_catalogue(simulated_camp, a_measure):
    many = simulated_camp(2_645_000, n=40).sessions
    few = simulated_camp(2_645_001, n=4).sessions.assign(line="delivery=machine")
    lines = errors_of(pd.concat([many, few]), a_measure(typical_error=9.0))
    by_line = {r.line: r for r in lines}
    assert by_line["delivery=machine"].basis == "shrunk to the measure"
    assert by_line["delivery=machine"].typical_error < 3.0
    assert by_line["delivery=tee"].basis == "own repeats"


@pytest.mark.parametrize(("declared", "basis"), [(1.6, "catalogue"), (None, "not known")])
def test_without_repeats_the_catalogue_speaks_or_nobody(simulated_camp, a_measure, declared, basis):
    frame = simulated_camp(2_646_000, n=6, weeks=(0.0,)).sessions
    r = only(errors_of(frame, a_measure(typical_error=declared)))
    assert (r.basis, r.typical_error, r.low, r.degrees) == (basis, declared, None, 0.0)
    assert (r.minimal_change_one is None) == (declared is None)


def test_an_error_is_never_below_the_rounding_of_the_instrument(simulated_camp, a_measure):
    frame = simulated_camp(2_647_000, n=20).sessions
    frame["value"] = 80.0 + np.random.default_rng(1).normal(0.0, 0.1, len(frame))
    r = only(errors_of(frame, a_measure(resolution=0.5)))
    assert r.typical_error == pytest.approx(0.5 / np.sqrt(12.0))


@pytest.mark.parametrize(("declared", "basis"), [(1.6, "catalogue"), (None, "not known")])
def test_values_that_are_all_the_same_say_nothing_about_the_error(simulated_camp, a_measure, declared, basis):
    frame = simulated_camp(2_647_000, n=20).sessions.assign(value=80.0)
    r = only(errors_of(frame, a_measure(typical_error=declared)))
    assert (r.basis, r.typical_error, r.low, r.degrees) == (basis, declared, None, 0.0)


def test_ratings_unknown_measures_and_sessions_without_a_stay_are_left_out(simulated_camp, a_measure):
    frame = simulated_camp(2_648_000, n=10).sessions
    assert errors_of(frame, a_measure(kind="rating")) == ()
    assert measurement_errors(frame, {}) == ()
    assert errors_of(frame.assign(stay_id=None), a_measure()) == ()
    assert errors_of(frame.iloc[:0], a_measure()) == ()
