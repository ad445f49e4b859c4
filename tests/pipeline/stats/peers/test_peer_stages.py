"""Standing by age beside standing by growth stage: counts, refusals, a late maturer, noise, ties."""

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.change.results import MeasurementError
from latewood.pipeline.stats.growth.maturity import AFTER, AROUND, BodySize, maturity_band
from latewood.pipeline.stats.peers.stages import peer_stages

TEST_DAY = date(2033, 7, 1)
LATE = {"age": 15.1, "height": 162.0, "sitting": 82.0, "mass": 50.0}  # offset +.17: around the peak
EARLY = {"age": 15.2, "height": 182.0, "sitting": 95.0, "mass": 78.0}  # two years past it
YOUNG = {"age": 13.6, "height": 163.0, "sitting": 83.5, "mass": 52.0}  # around the peak
GROWN = {"age": 17.5, "height": 183.0, "sitting": 95.0, "mass": 82.0}  # no equation holds


def program(groups):
    """People and session values: `groups` are (build, values of exit speed) with athletes in order."""
    people, rows = [], []
    for build, values in groups:
        for value in values:
            one = f"A{len(people):03d}"
            born = TEST_DAY - timedelta(days=round(365.25 * build["age"]))
            people.append({"athlete_id": one, "birth_date": born, "sex": "male", "sport": "baseball"})
            words = {
                "exit_speed": value,
                "standing_height": build["height"],
                "sitting_height": build["sitting"],
                "body_mass": build["mass"],
            }
            rows += [
                {
                    "athlete_id": one,
                    "measure": m,
                    "line": "",
                    "held_on": TEST_DAY,
                    "value": v,
                    "session_id": one,
                }
                for m, v in words.items()
            ]
    return pd.DataFrame(people), pd.DataFrame(rows)


def told(groups, measure, errors=()):
    people, sessions = program(groups)
    result = peer_stages(sessions, people, {measure.key: measure}, errors)
    return {(row.athlete_id, row.basis): row for row in result}


def test_the_classes_of_the_builds_used_here():
    """Stage of the job's worked athlete: offset +.17 (Mirwald 2002, by hand)."""
    offsets = [
        maturity_band(
            sex="male",
            age=b["age"],
            size=BodySize(height_cm=b["height"], sitting_cm=b["sitting"], mass_kg=b["mass"]),
        )
        for b in (LATE, EARLY, YOUNG)
    ]
    assert offsets[0].offset == pytest.approx(0.17, abs=0.01)
    assert [o.stage for o in offsets] == [AROUND, AFTER, AROUND]


def test_twenty_seven_of_thirty_eight_is_seventy_one(a_measure):
    """27 of 38 below: percentile 71, 90 % interval 58 to 82 (Brown, Cai, DasGupta 2001; the job's example)."""
    values = [*np.linspace(60, 69, 27), 70.0, *np.linspace(71, 80, 11)]
    row = told([(LATE, values)], a_measure(typical_error=None))["A027", "growth stage"]
    assert (row.n_peers, row.n_below, row.verdict) == (38, 27.0, "shown")
    assert [round(x) for x in (row.percentile, row.low, row.high)] == [71, 58, 82]
    assert "noise not known" in row.method


def test_nine_of_twelve_is_refused(a_measure):
    values = [*np.linspace(60, 69, 9), 70.0, *np.linspace(71, 80, 3)]
    row = told([(LATE, values)], a_measure())["A009", "growth stage"]
    assert (row.n_peers, row.percentile, row.verdict) == (12, None, "refused")
    assert row.reason == "12 peers of the same growth stage, 20 are needed"


def test_a_late_maturer_stands_lower_by_age_than_by_stage(a_measure):
    rng = np.random.default_rng(2_691_000)
    groups = [(LATE, [64.0]), (EARLY, rng.normal(72, 4, 30)), (YOUNG, rng.normal(62, 4, 30))]
    result = told(groups, a_measure())
    by_age, by_stage = result["A000", "age"], result["A000", "growth stage"]
    assert by_age.n_peers == 30 and by_stage.n_peers == 30
    assert by_age.percentile < 20 < 50 < by_stage.percentile
    assert by_stage.stage == AROUND
    assert (by_age.group_low, by_age.group_high) == pytest.approx((14.1, 16.1), abs=0.01)


def test_stage_is_given_only_where_an_equation_holds_and_older_athletes_are_no_peers_by_stage(a_measure):
    result = told([(EARLY, np.arange(25.0)), (GROWN, np.arange(25.0))], a_measure())
    assert {athlete for athlete, _ in result} == {f"A{k:03d}" for k in range(25)}
    assert {row.n_peers for (_, basis), row in result.items() if basis == "growth stage"} == {24}


def test_equations_that_do_not_agree_refuse_the_stage_and_count_in_no_class(a_measure):
    # at 14.0 years and 170 cm Moore says +.6, Mirwald with a long trunk over 1
    torn = {"age": 14.0, "height": 170.0, "sitting": 92.5, "mass": 75.0}
    result = told([(torn, [70.0, 71.0]), (YOUNG, np.arange(25.0))], a_measure())
    assert result["A000", "growth stage"].stage == "uncertain"
    assert result["A000", "growth stage"].reason == "the growth equations do not agree on the stage"
    assert result["A000", "age"].verdict == "shown"
    assert result["A000", "growth stage"].n_peers == 0
    assert result["A002", "growth stage"].n_peers == 24


def test_ties_count_a_half_and_lower_is_better_is_turned(a_measure):
    from latewood.pipeline.catalogue.model import Better

    values = [5.0] * 21 + [6.0] * 10
    even = told([(LATE, values)], a_measure())["A000", "growth stage"]
    assert even.n_below == 10.0
    turned = told([(LATE, values)], a_measure(better=Better.LOWER))["A000", "growth stage"]
    assert turned.n_below == 20.0


def test_session_noise_widens_the_interval(a_measure):
    values = np.linspace(60, 80, 41)
    measure = a_measure()
    error = MeasurementError(
        measure=measure.key, line="", basis="own repeats", typical_error=4.0, low=None, high=None, trial_sd=None,
        minimal_change_one=None, minimal_change_three=None, smallest_worthwhile=None, icc=None, n_athletes=20,
        n_sessions=60, degrees=40.0, level=0.95, method="test",
    )  # fmt: skip
    quiet = told([(LATE, values)], a_measure(typical_error=None))["A020", "growth stage"]
    loud = told([(LATE, values)], measure, [error])["A020", "growth stage"]
    assert loud.percentile == quiet.percentile
    assert loud.high - loud.low > 1.3 * (quiet.high - quiet.low)


def test_interval_holds_the_athletes_true_place_among_many(a_measure):
    """True percentile of the athlete's level in a normal population, 40 peers, noise .4 of the spread."""
    from scipy import stats

    rng, held = np.random.default_rng(2_691_100), []
    measure = a_measure(typical_error=0.4)
    for _ in range(25):
        level = rng.normal(0.0, 1.0, 41)
        result = told([(LATE, level + rng.normal(0.0, 0.4, 41))], measure)
        for k in range(41):
            row = result[f"A{k:03d}", "growth stage"]
            held.append(row.low <= 100 * stats.norm.cdf(level[k] / np.sqrt(1 + 0.4**2)) <= row.high)
    assert 0.86 <= np.mean(held) <= 0.98, np.mean(held)
