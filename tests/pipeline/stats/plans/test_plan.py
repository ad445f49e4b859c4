from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.engine.kalman import MassVariances
from latewood.pipeline.stats.plans.results import PlanPower
from latewood.pipeline.stats.plans.reviews import CampPeople, plan_reviews
from latewood.pipeline.stats.plans.rules import (
    OFF_PLAN,
    Looks,
    PlanSettings,
    extra_weeks,
    judge,
    needed_rate,
    reachable_kg,
)
from latewood.pipeline.stats.plans.states import plan_states
from latewood.pipeline.stats.plans.weighin import mass_trends
from latewood.pipeline.stats.plans.whatif import what_if
from latewood.pipeline.stats.plans.words import REFER_SHARE

VARIANCES = MassVariances(
    level_sd=0.12,
    rate_sd=0.012,
    water_sd=0.5,
    persistence=0.5,
    reading_sd=0.3,
    start_rate=0.3,
    start_rate_sd=0.3,
)
SETTINGS = PlanSettings()


def look(**changed):
    """One look at a quiet plan of 0.35 kg a week in week 5, 72 kg at the start."""
    values = {"kg": 73.75, "kg_se": 0.15, "rate": 0.35, "rate_se": 0.10, "lost_percent": -1.0}
    values |= {"weighins_two_weeks": 10, "weeks_seen": 5.0, "weeks_in": 5.0, "days_left": 35}
    values |= {"planned_rate": 0.35, "start_kg": 72.0, "target_kg": 75.5, "allowed": True} | changed
    kg, rate = values.pop("kg"), values.pop("rate")
    variances = np.array([values.pop("kg_se") ** 2, values.pop("rate_se") ** 2, 0.1])
    return Looks(
        mean=np.array([[kg, rate, 0.0]]),
        cov=np.diag(variances)[None],
        **{name: np.array([value]) for name, value in values.items()},
    )


def judged(**changed):
    return judge(look(**changed), VARIANCES, SETTINGS)


def status(**changed):
    return judged(**changed).status[0]


# --- arithmetic of one look, worked by hand from normal tables -----------------------------------------


def test_chances_early_in_a_plan():
    # Rate -0.10, standard error 0.37, plan 0.35: below half the plan z = 0.743, at the plan or above z = 1.216.
    early = judged(rate=-0.10, rate_se=0.37, weeks_seen=2.0, weeks_in=2.0, kg=71.9)
    assert 1 - early.chance_half_plan[0] == pytest.approx(0.77, abs=0.005)
    assert 1 - early.chance_below_plan[0] == pytest.approx(0.11, abs=0.005)
    assert early.status[0] == "too early to tell"


def test_chances_of_a_gain_that_is_too_fast():
    # 75.1 kg at 0.62 +- 0.10: ceiling 0.376, z = 2.44; 1 % is 0.751, z = -1.31.
    fast = judged(kg=75.1, rate=0.62)
    assert fast.ceiling_rate[0] == pytest.approx(0.3755)
    assert fast.chance_above_ceiling[0] == pytest.approx(0.993, abs=0.001)
    assert fast.chance_refer[0] == pytest.approx(0.095, abs=0.001)
    assert fast.status[0] == "too fast"


def test_what_a_stalled_plan_would_need():
    # 73.4 kg in week 7 of 10, target 75.5: 2.1 kg in 3 weeks; at 0.367 a week 5.72 weeks.
    kg, target, left = np.array([73.4]), np.array([75.5]), np.array([21])
    ceiling = 0.005 * kg
    assert needed_rate(kg, target, left) == pytest.approx([0.70])
    assert needed_rate(kg, target, left) / kg == pytest.approx([0.0095], abs=1e-4)
    assert reachable_kg(kg, ceiling, left) == pytest.approx([74.5], abs=0.01)
    assert extra_weeks(kg, target, ceiling, left) == pytest.approx([2.7], abs=0.03)
    assert needed_rate(target, kg, left) == pytest.approx([0.0])
    stalled = judged(kg=73.4, rate=0.0, weeks_seen=7.0, weeks_in=7.0, days_left=21)
    assert stalled.status[0] == "stalled"


def test_forecast_lets_the_rate_fade():
    # Undamped: 73.9 + 5 * 0.31 = 75.45. Fading over 25 weeks: 73.9 + 0.31 * 25 * (1 - exp(-1/5)) = 75.305.
    result = judged(kg=73.9, rate=0.31)
    assert result.forecast_kg[0] == pytest.approx(75.305, abs=0.01)
    # Independent level and rate: 0.15^2 + (4.532 * 0.10)^2 plus the wander of 35 days (0.504 + 0.02).
    assert result.forecast_se[0] == pytest.approx(np.sqrt(0.15**2 + 0.4532**2 + 0.525), abs=0.02)
    assert 0.35 < result.chance_target[0] < 0.46


# --- which status comes first --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({}, "on plan"),
        ({"rate": 0.15}, "behind"),
        ({"rate": 0.05}, "stalled"),
        ({"rate": -0.12}, "losing"),
        ({"kg": 75.6, "rate": 0.05, "days_left": 5}, "reached"),
        ({"days_left": 0}, "past its date"),
        ({"days_left": -9, "kg": 75.6}, "reached"),
        ({"rate": -0.12, "weeks_in": 2.9}, "too early to tell"),
        ({"weighins_two_weeks": 5}, "too few weigh-ins"),
        ({"weighins_two_weeks": 3, "weeks_seen": 1.0, "weeks_in": 1.0}, "too early to tell"),
        ({"rate": 0.60}, "too fast"),
        ({"rate": 0.60, "weeks_seen": 2.0}, "too early to tell"),
        ({"rate": 0.60, "allowed": False}, "not allowed"),
        ({"lost_percent": 2.1}, "refer"),
        ({"lost_percent": 1.9}, "on plan"),
        ({"lost_percent": 2.1, "allowed": False, "weighins_two_weeks": 0}, "refer"),
        ({"lost_percent": 2.1, "weeks_seen": 0.9, "weeks_in": 0.9}, "too early to tell"),
        ({"rate": 0.85}, "refer"),
        ({"lost_percent": np.nan}, "on plan"),
    ],
)
def test_first_status_that_holds(changed, expected):
    assert status(**changed) == expected


def test_threshold_of_behind_is_on_the_chance():
    # P(rate < plan) crosses .91 at z = 1.3408, and .94 at 1.5548.
    assert status(rate=0.35 - 0.1340) == "on plan"
    assert status(rate=0.35 - 0.1342) == "behind"
    assert status(rate=0.35 - 0.1554, limit=0.94) == "on plan"
    assert status(rate=0.35 - 0.1556, limit=0.94) == "behind"


# --- from tables to reviews ----------------------------------------------------------------------------

START = date(2033, 1, 3)


def tables(weights, *, born="2017-01-01", **plan):
    """Plans, the camp's people and fitted weigh-ins; `weights` is {day: kg}."""
    plans = {"plan_id": "p", "version": 1, "athlete_id": "a", "stay_id": "a@c", "start_on": START}
    plans |= {"start_kg": 72.0, "target_on": date(2033, 3, 14), "target_kg": 75.5, "ended_on": None}
    weighins = pd.DataFrame({
        "athlete_id": "a",
        "stay_id": "a@c",
        "camp_id": "c",
        "measured_on": [np.datetime64(START) + day for day in weights],
        "kg": [float(kg) for kg in weights.values()],
    })
    stays = pd.DataFrame({"stay_id": ["a@c"], "athlete_id": ["a"], "arrived_on": [START]})
    people = pd.DataFrame({"athlete_id": ["a"], "birth_date": [born and date.fromisoformat(born)]})
    camp = CampPeople(people=people, stays=stays)
    return pd.DataFrame([plans | plan]), camp, mass_trends(weighins, VARIANCES)


def course(rate, days=36, seed=1):
    noise = np.random.default_rng(seed).normal(0, 0.4, days)
    return {day: 72 + rate * day / 7 + noise[day] for day in range(days) if day % 7 < 5}


def review(*args, power=(), **kwargs):
    (result,) = plan_reviews(*tables(*args, **kwargs), power=power)
    return result


def test_review_of_a_stay_on_plan():
    result = review(course(0.35))
    assert result.status == "on plan"
    assert not result.needs_decision
    assert result.as_of == date(2033, 2, 7)
    assert (result.n_weighins, result.weighins_two_weeks, result.weeks_in, result.weeks_left) == (
        26,
        10,
        5,
        5,
    )
    assert result.planned_rate == pytest.approx(0.35)
    assert result.line_kg == pytest.approx(73.75)
    assert result.trend_low < 73.75 < result.trend_high
    assert result.rate_low < 0.35 < result.rate_high
    assert result.needed_rate == pytest.approx((75.5 - result.trend_kg) / 5)
    assert 0 < result.chance_target < 1
    assert result.false_alarm is None


@pytest.mark.parametrize("weights", [{0: 72.3}, {0: 72.3, 1: 72.5}, {0: 72.3, 2: 72.4, 5: 72.1}])
def test_a_few_days_give_no_rate_and_not_the_planned_one(weights):
    result = review(weights)
    assert (result.rate, result.rate_low, result.rate_high, result.rate_percent) == (None, None, None, None)
    assert result.trend_low < 72.3 < result.trend_high
    assert result.status == "too early to tell"


def test_two_weeks_give_a_rate():
    result = review({day: 72.0 + 0.05 * day for day in range(15)})
    assert result.rate_low < result.rate < result.rate_high


def test_a_plan_is_no_evidence_that_it_is_kept():
    """An athlete who has not gained for ten weeks: the rate now holds nought, and mass is likely held."""
    weights = {day: 72.0 + 0.25 * (-1) ** day for day in range(70) if day % 7 < 5}
    result = review(weights, target_on=date(2033, 4, 25), target_kg=77.0)
    assert result.rate_low < 0.0 < result.rate_high < result.planned_rate
    assert result.rate < 0.1
    assert result.chance_target < 0.02


def test_stalled_athlete_needs_a_decision_and_shows_the_false_alarm_share():
    weights = course(0.35, 28) | {day: 73.4 + 0.3 * (-1) ** day for day in range(28, 84)}
    result = review(weights, target_on=date(2033, 4, 18), target_kg=77.25)
    assert result.status in {"stalled", "behind"}
    assert result.needs_decision
    assert result.false_alarm == PlanSettings().false_share
    assert "below the planned rate with a chance of" in result.reason
    assert result.extra_weeks > 0


def test_a_plan_is_judged_by_the_limit_set_for_its_weeks_and_weighins():
    weights = course(0.35, 28) | {day: 73.4 + 0.3 * (-1) ** day for day in range(28, 84)}
    plan = {"target_on": date(2033, 4, 18), "target_kg": 77.25}
    usual = review(weights, **plan)
    cells = {
        "gap_rate": 0.0,
        "standard_error": 0.01,
        "n_stays": 9,
        "day_sd": 0.6,
        "level_sd": 0.1,
        "method": "m",
    }
    rows = [
        PlanPower(per_week=per_week, plan_weeks=weeks, week=15, called=0.05, alarm_from=limit, **cells)
        for per_week, weeks, limit in ((6, 20, 0.9999), (6, 12, 0.5), (3, 20, 0.5))
    ]
    own = review(weights, power=rows, **plan)
    assert own.chance_below_plan == usual.chance_below_plan
    assert usual.chance_below_plan < 0.9999
    assert (usual.status in OFF_PLAN, own.status in OFF_PLAN) == (True, False)
    assert (own.alarm_from, own.alarm_share) == (0.9999, 0.05)
    assert usual.alarm_from == PlanSettings().behind_chance


def test_loss_is_referred_before_anything_else():
    weights = {day: 72 - 0.2 * max(day - 20, 0) for day in range(36)}
    result = review(weights, born="2025-01-01")
    assert result.status == "refer"
    assert result.reason.startswith("lost ")
    assert result.false_alarm == REFER_SHARE


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"born": "2019-01-04"}, "younger than 14"),
        ({"born": None}, "birth date not stated"),
        ({"target_kg": 75.7}, "above the ceiling of 0.5 %"),
        ({"target_kg": 70.0}, "target lies below the start"),
        ({"target_on": START}, "target date is not after the start"),
    ],
)
def test_plans_that_are_not_allowed(changed, reason):
    result = review(course(0.35), **changed)
    assert result.status == "not allowed"
    assert reason in result.reason
    assert result.needs_decision


def test_fourteenth_birthday_and_the_ceiling_itself_are_allowed():
    assert review(course(0.35), born="2019-01-03").status == "on plan"
    assert review(course(0.36), target_kg=75.6).status == "on plan"


def test_settings_move_the_ceiling():
    result = plan_reviews(*tables(course(0.35)), replace(SETTINGS, ceiling_percent=0.4))
    assert result[0].status == "not allowed"


def test_highest_version_counts_and_ended_plans_do_not():
    plans, camp, fit = tables(course(0.35))
    second = plans.assign(version=2, target_kg=74.0)
    ended = plans.assign(plan_id="q", ended_on=date(2033, 2, 1))
    result = plan_reviews(pd.concat([second, plans, ended]), camp, fit)
    assert [(one.plan_id, one.planned_rate) for one in result] == [("p", pytest.approx(0.2))]


def test_plan_finds_its_stay_and_uses_weighins_since_it_began():
    plans, camp, fit = tables(course(0.35), stay_id=None, start_on=date(2033, 1, 24), target_kg=74.0)
    (result,) = plan_reviews(plans, camp, fit)
    assert result.stay_id == "a@c"
    assert (result.n_weighins, result.weeks_in) == (11, 2.0)
    assert result.status == "too early to tell"


def test_plan_without_weighins_is_still_listed():
    plans, camp, fit = tables({0: 72.0}, start_on=date(2033, 1, 24), target_kg=74.0)
    (result,) = plan_reviews(plans, camp, fit)
    assert (result.status, result.trend_kg, result.n_weighins) == ("too few weigh-ins", None, 0)
    assert result.as_of == date(2033, 1, 24)


def test_no_plans_give_no_reviews():
    plans, camp, fit = tables({0: 72.0})
    assert plan_reviews(plans.iloc[:0], camp, fit) == ()


@pytest.mark.parametrize("days", [{42: 71.5, 43: 75.0}, {42: 69.8, 44: 71.9, 46: 73.9, 48: 75.9}])
def test_under_a_week_of_a_new_plan_is_neither_too_fast_nor_a_referral(days):
    """Six weeks of weigh-ins, then days of water and food under a new plan: no rate, and no alarm of one."""
    weights = course(0.0, 42) | days
    result = review(weights, start_on=date(2033, 2, 14), target_on=date(2033, 4, 25))
    assert result.n_weighins == len(days)
    assert (result.rate, result.chance_above_ceiling, result.chance_target) == (None, None, None)
    assert result.status == "too early to tell"
    assert "chance" not in result.reason
    week = course(0.0, 42) | {42 + day: 72.0 + 0.5 * day for day in range(8)}
    assert review(week, start_on=date(2033, 2, 14), target_on=date(2033, 4, 25)).status == "too fast"


@pytest.mark.parametrize("weights", [{0: 72.0}, {0: 72.0, 1: 74.0}])
def test_one_or_two_days_of_a_stay_give_no_chance_of_a_target(weights):
    plans, camp, fit = tables(weights)
    for rows in (plans, plans.iloc[:0]):
        (state,) = plan_states(rows, camp, fit)
        assert not state.rate_known
        result = what_if(state, 76.0, date(2033, 4, 1))
        assert result.needed_rate > 0
        assert (result.chance, result.expected_kg, result.low, result.high) == (None, None, None, None)
    plans, camp, fit = tables(course(0.35))
    (state,) = plan_states(plans, camp, fit)
    assert state.rate_known and what_if(state, 76.0, date(2033, 4, 1)).chance is not None
