"""Trends of single athletes: how often they are right on simulated camps, and what they say otherwise."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from latewood.pipeline.catalogue.model import Better
from latewood.pipeline.stats.change import trend as trend_module
from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.trend import chance_better, clear_at, judge, trends
from latewood.pipeline.stats.engine.own_lines import course_of
from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from tests.degenerate import Asked, frames

LONG = (0.0, 0.2, 3.0, 6.0, 10.0)
MIDDLE = (0.0, 0.2, 4.0, 8.0)
SHORT = (0.0, 0.2, 3.0)


def told(camp, measure, errors=()):
    return trends(camp.sessions, {measure.key: measure}, errors)


def record(simulate, measure, *, first_seed, camps=60, **camp_options):
    """One row per trend of an athlete tested on the last day of the camp."""
    rows = []
    for seed in range(first_seed, first_seed + camps):
        camp = simulate(seed, still=0.25, **camp_options)
        truth = {}
        for r in told(camp, measure):
            if r.change is None or not r.intake_used:
                continue
            if r.weeks not in truth:
                truth[r.weeks] = camp.true_change(0.0, r.weeks)
            k = camp.ids.index(r.athlete_id)
            true = truth[r.weeks][k]
            rows.append({
                "error": r.change - true,
                "held": r.low <= true <= r.high,
                "still": camp.log_part[k] == 0.0,
                "n": r.n_sessions,
                "verdict": r.verdict,
                "sized_error": r.sized_change - true,
                "sized_held": r.sized_low <= true <= r.sized_high,
                "width": r.high - r.low,
            })
    return pd.DataFrame(rows)


@pytest.mark.slow
@pytest.mark.parametrize(("weeks", "first_seed"), [(LONG, 2_650_000), (MIDDLE, 2_651_000)])
def test_own_line_covers_and_rarely_calls_the_unchanged_changed(simulated_camp, a_measure, weeks, first_seed):
    result = record(simulated_camp, a_measure(), first_seed=first_seed, weeks=weeks)
    unchanged = result[result["still"] & (result["n"] >= 4)]
    assert 0.93 <= result["held"].mean() <= 0.975, result["held"].mean()
    assert abs(result["error"].mean()) < 0.25  # a bad day at intake must not read as gain
    assert unchanged["verdict"].str.startswith("clear").mean() <= 0.05
    # the size is nearer the truth than the test, and its interval is honest
    assert result["sized_error"].std() < 0.75 * result["error"].std()
    assert result["sized_held"].mean() >= 0.90


@pytest.mark.slow
def test_a_travel_day_at_intake_does_not_read_as_gain(simulated_camp, a_measure):
    result = record(simulated_camp, a_measure(), first_seed=2_652_000, weeks=LONG, travel=3.0, camps=40)
    assert abs(result["error"].mean()) < 0.3
    assert result["held"].mean() >= 0.93


@pytest.mark.slow
def test_more_sessions_find_more(simulated_camp, a_measure):
    often = tuple(np.arange(0.0, 14.1, 1.0))
    options = {"first_seed": 2_653_000, "camps": 15}
    few = record(simulated_camp, a_measure(), weeks=(0.0, 0.2, 3.0, 6.0, 14.0), **options)
    many = record(simulated_camp, a_measure(), weeks=often, **options)
    power = [(f[~f["still"]]["verdict"] == "clear gain").mean() for f in (few, many)]
    assert power[1] > power[0] + 0.04, power  # although every look asks more where more are planned


@pytest.mark.slow
def test_three_sessions_give_a_change_with_its_interval_and_no_verdict(simulated_camp, a_measure):
    result = record(simulated_camp, a_measure(), first_seed=2_654_000, weeks=SHORT, camps=30)
    assert set(result["verdict"]) == {"too few sessions"}
    assert 0.93 <= result["held"].mean() <= 0.98
    assert result["width"].median() > 6.0  # three weeks and three tests cannot tell much


def hand_made(values, days, measure="exit_speed", camp="c", athlete="a1", intake=True):
    held_on = [date.fromordinal(date(2033, 6, 1).toordinal() + d) for d in days]
    return pd.DataFrame({
        "session_id": [f"{athlete}{d}" for d in days],
        "athlete_id": athlete,
        "stay_id": f"{athlete}@{camp}",
        "camp_id": camp,
        "held_on": held_on,
        "weeks": np.array(days) / 7.0,
        "is_intake": [intake and d == days[0] for d in days],
        "measure": measure,
        "line": "",
        "value": values,
        "n_trials": 3,
        "trial_sd": 1.0,
    })


def test_one_athlete_alone_has_his_line_judged_by_the_declared_error(a_measure):
    days, values = [0, 14, 28, 42, 70], [80.0, 82.1, 83.0, 85.2, 88.9]
    measure = a_measure(typical_error=1.0)
    frame = hand_made(values, days)
    errors = measurement_errors(frame, {measure.key: measure})
    (r,) = trends(frame, {measure.key: measure}, errors)
    # four later sessions remain, so the intake day is left out
    weeks = np.array(days[1:]) / 7.0
    line = sm.OLS(values[1:], sm.add_constant(weeks)).fit()
    assert r.rate_per_week == pytest.approx(line.params[1])
    assert r.change == pytest.approx(line.params[1] * 8.0)
    # the weeks are those the change spans: change and rate say the same
    assert (r.intake_used, r.n_sessions, r.n_trials, r.weeks) == (False, 5, 15, 8.0)
    assert "noise: the line's typical error" in r.method
    assert (r.first_value, r.last_value, r.last_on) == (80.0, 88.9, date(2033, 8, 10))
    assert r.verdict == "clear gain" and r.z > clear_at(5, 5)
    assert r.sized_change is None


def independent(frame, course):
    return ()


def chosen_course(frame, measure):
    return course_of(comparable_sessions(frame, {measure.key: measure}))


def test_a_shared_noise_gives_the_interval_of_one_regression_with_a_line_each(
    simulated_camp, a_measure, monkeypatch
):
    monkeypatch.setattr(trend_module, "serial_noise", independent)
    camp = simulated_camp(2_655_000, n=12, weeks=(0.0, 2.0, 4.0, 6.0, 8.0))
    frame = camp.sessions.assign(is_intake=False)
    measure = a_measure()
    result = trends(frame, {measure.key: measure}, ())
    course = chosen_course(frame, measure)
    codes, _ = pd.factorize(frame["stay_id"])
    each = np.eye(12)[codes]
    fit = sm.OLS(
        frame["value"], np.hstack([each, each * course.at(frame["weeks"].to_numpy())[:, None]])
    ).fit()
    slopes, bounds = fit.params.to_numpy()[12:], fit.conf_int().to_numpy()[12:]
    for k, r in enumerate(result):
        span = float(np.diff(course.at(np.array([8.0 - r.weeks, 8.0])))[0])
        assert (r.change, r.low, r.high) == pytest.approx((slopes[k] * span, *(bounds[k] * span)))
        assert r.rate_per_week == pytest.approx(slopes[k] * span / r.weeks)


def test_the_intake_effect_is_that_of_one_regression_with_a_common_intake_term(
    simulated_camp, a_measure, monkeypatch
):
    monkeypatch.setattr(trend_module, "serial_noise", independent)
    frame = simulated_camp(2_656_000, n=12, travel=2.0, missing=0.0).sessions
    measure = a_measure()
    result = trends(frame, {measure.key: measure}, ())
    course = chosen_course(frame, measure)
    assert course.intake_ratio > 1.0
    codes, _ = pd.factorize(frame["stay_id"])
    each = np.eye(12)[codes]
    time = course.at(frame["weeks"].to_numpy())
    X = np.hstack([each, each * time[:, None], frame[["is_intake"]].astype(float)])
    first = frame["is_intake"] & ~frame["stay_id"].duplicated()
    fit = sm.WLS(frame["value"], X, weights=course.weights(first)).fit()
    slopes, bounds = fit.params.to_numpy()[12:24], fit.conf_int().to_numpy()[12:24]
    for k, r in enumerate(result):
        assert r.intake_used
        own = time[codes == k]
        span = own.max() - own.min()
        assert (r.change, r.low, r.high) == pytest.approx((slopes[k] * span, *(bounds[k] * span)))


@pytest.mark.parametrize(
    ("z", "n", "planned", "better", "verdict"),
    [
        (2.0, 4, 4, Better.HIGHER, "clear gain"),
        (2.0, 4, 4, Better.LOWER, "clear loss"),
        (-2.7, 4, 6, Better.LOWER, "clear gain"),
        (-2.8, 9, 12, Better.HIGHER, "clear loss"),
        (2.7, 5, 6, Better.NEITHER, "clear rise"),
        (-2.7, 5, 6, Better.NEITHER, "clear fall"),
        (2.0, 4, 5, Better.HIGHER, "not clear yet"),
        (2.7, 4, 8, Better.HIGHER, "not clear yet"),
        (2.3, 12, 12, Better.HIGHER, "not clear yet"),
        (9.0, 3, 6, Better.HIGHER, "too few sessions"),
        (None, 1, 6, Better.HIGHER, "too few sessions"),
        (None, 5, 6, Better.HIGHER, "not clear yet"),
    ],
)
def test_verdicts(z, n, planned, better, verdict):
    assert judge(z, n, planned, better)[0] == verdict


def test_sessions_still_to_come_follow_from_the_end_of_the_stay_and_the_usual_distance(a_measure):
    measure = a_measure()
    frame = pd.concat([
        hand_made([80.0, 81.0, 83.0, 84.0], [0, 14, 28, 42], athlete="a1"),
        hand_made([80.0, 81.0], [0, 14], athlete="a2"),
        hand_made([80.0, 81.0], [0, 14], athlete="a3"),
    ])
    day = pd.Timestamp(2033, 6, 1)
    stays = pd.DataFrame({
        "stay_id": ["a1@c", "a2@c"],
        "left_on": [pd.NaT, day + pd.Timedelta(days=15)],
        "planned_until": [day + pd.Timedelta(days=75)] * 2,
    })
    result = {r.athlete_id: r for r in trends(frame, {measure.key: measure}, (), stays)}
    assert result["a1"].planned_sessions == 4 + 2  # 33 days, one in 14
    assert result["a2"].planned_sessions == 2  # has left
    assert result["a3"].planned_sessions == 2  # nothing known: taken as over
    assert "with 6 sessions planned" in result["a1"].method


def test_a_faster_split_is_a_gain(simulated_camp, a_measure):
    camp = simulated_camp(2_657_000, n=20, weeks=tuple(np.arange(0.0, 14.1, 1.0)))
    up, down = a_measure(better=Better.HIGHER), a_measure(better=Better.LOWER)
    for higher, lower in zip(told(camp, up), told(camp, down), strict=True):
        assert higher.change == lower.change
        assert higher.probability_better == pytest.approx(1.0 - lower.probability_better)
        assert (higher.verdict == "clear gain") == (lower.verdict == "clear loss")
    assert any(r.verdict == "clear loss" for r in told(camp, down))
    assert chance_better(2.0, Better.NEITHER) is None


def test_each_stay_of_a_returning_athlete_has_its_own_trend(a_measure):
    measure = a_measure()
    first = hand_made([80.0, 81.0, 83.0], [0, 21, 42], camp="c1")
    second = hand_made([90.0, 91.0], [400, 421], camp="c2")
    by_stay = {r.stay_id: r for r in trends(pd.concat([second, first]), {measure.key: measure}, ())}
    assert sorted(by_stay) == ["a1@c1", "a1@c2"]
    assert by_stay["a1@c2"].change == pytest.approx(1.0)
    assert by_stay["a1@c1"].verdict == by_stay["a1@c2"].verdict == "too few sessions"


def test_one_session_has_no_change(a_measure):
    measure = a_measure()
    (r,) = trends(hand_made([80.0], [0]), {measure.key: measure}, ())
    assert (r.change, r.low, r.z, r.sized_change, r.verdict) == (None, None, None, None, "too few sessions")
    assert "second" in r.reason


def test_two_tests_of_a_split_give_the_change_and_its_error(a_measure):
    # 7.11 to 7.213 s with a typical error of 0.07 s per session: standard error 0.07 x root of 2
    split = a_measure(key="sprint_60yd", better=Better.LOWER, typical_error=0.07, resolution=0.01)
    frame = hand_made([7.12, 7.21], [0, 42], measure="sprint_60yd")
    errors = measurement_errors(frame, {split.key: split})
    (r,) = trends(frame, {split.key: split}, errors)
    assert r.change == pytest.approx(0.09)
    assert r.verdict == "too few sessions"
    # ten degrees of freedom for a declared error: a little less sure than 0.82 of slower
    assert 1.0 - r.probability_better == pytest.approx(0.806, abs=0.01)
    assert (r.high - r.low) / 2.0 == pytest.approx(2.228 * 0.07 * np.sqrt(2.0), rel=1e-3)


def test_body_mass_ratings_and_sessions_without_a_stay_have_no_trend(a_measure):
    frame = hand_made([80.0, 81.0], [0, 21], measure="body_mass")
    mass = a_measure(key="body_mass", better=Better.NEITHER)
    assert trends(frame, {"body_mass": mass}, ()) == ()
    height = frame.assign(measure="standing_height")
    tall = a_measure(key="standing_height", better=Better.NEITHER)
    assert len(trends(height, {"standing_height": tall}, ())) == 1
    assert trends(height, {"standing_height": a_measure(key="standing_height", kind="rating")}, ()) == ()
    assert trends(height.assign(stay_id=None), {"standing_height": tall}, ()) == ()


def test_the_same_sessions_in_another_order_give_the_same_trends(simulated_camp, a_measure):
    camp = simulated_camp(2_658_000, n=15)
    measure = a_measure()
    again = camp.sessions.sample(frac=1.0, random_state=3)
    assert trends(again, {measure.key: measure}, ()) == told(camp, measure)


def two_devices(simulate, seed, error, switch):
    """A camp whose line is joined by an offset that is off by a draw of SD `error` from week `switch` on."""
    camp = simulate(seed, n=25, weeks=(0.0, 0.2, 2.0, 4.0, 6.0, 8.0), missing=0.0, bad_intake=0.0)
    later = camp.sessions["weeks"] > switch
    off = np.random.default_rng(seed).normal(0.0, error)
    camp.sessions["value"] += np.where(later, off, 0.0)
    camp.sessions["shift_se"] = np.where(later, error, 0.0)
    return camp


@pytest.mark.slow
def test_a_stay_on_two_devices_carries_the_error_of_the_offset(simulated_camp, a_measure):
    held, narrow = [], []
    for seed in range(2_659_000, 2_659_024):
        camp = two_devices(simulated_camp, seed, error=2.0, switch=3.0)
        plain = trends(camp.sessions.assign(shift_se=0.0), {"exit_speed": a_measure()}, ())
        truth = camp.true_change(0.0, 8.0)
        for r, without, true in zip(told(camp, a_measure()), plain, truth, strict=True):
            held.append(r.low <= true <= r.high)
            narrow.append(without.low <= true <= without.high)
    assert np.mean(narrow) < 0.88, np.mean(narrow)
    assert np.mean(held) >= 0.92, np.mean(held)


def test_a_stay_on_one_device_is_moved_as_a_whole(simulated_camp, a_measure):
    camp = simulated_camp(2_659_900, n=15)
    joined = camp.sessions.assign(shift_se=2.0)
    for r, same in zip(trends(joined, {"exit_speed": a_measure()}, ()), told(camp, a_measure()), strict=True):
        assert (r.low, r.high) == pytest.approx((same.low, same.high))


@pytest.mark.parametrize("value", ["constant", "exact lines"])
def test_values_without_noise_are_judged_by_the_declared_error(a_measure, value):
    sessions = frames(Asked(values=value)).sessions
    measure = a_measure(key="exit_speed", typical_error=0.5)
    table = {"exit_speed": measure}
    for r in trends(sessions, table, measurement_errors(sessions, table)):
        assert r.high - r.low > 1.0
        assert not r.verdict.startswith("clear")


@pytest.mark.parametrize("value", ["noisy", "exact lines"])
def test_two_sessions_each_give_no_size(a_measure, value):
    sessions = frames(Asked(values=value, days="two points")).sessions
    table = {"exit_speed": a_measure(key="exit_speed", typical_error=0.5)}
    result = trends(sessions, table, measurement_errors(sessions, table))
    assert result and all(r.change is not None and r.sized_change is None for r in result)


def test_two_days_in_a_row_have_a_change_and_no_rate(simulated_camp, a_measure):
    measure = a_measure(typical_error=1.0)
    camp = simulated_camp(2_659_000, weeks=(0.0, 1.0 / 7.0))
    told_of = told(camp, measure, measurement_errors(camp.sessions, {measure.key: measure}))
    result = [r for r in told_of if r.n_sessions == 2]
    assert result and all(r.change is not None and r.low < r.high for r in result)
    assert all(r.rate_per_week is None and r.rate_low is None for r in result)
