"""Holds of body mass: learned apart from wander, kept by an earlier build, and the same in a what-if."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.engine.kalman import Weighed
from latewood.pipeline.stats.plans.massvariance import USUAL_COURSE, estimate_course, estimate_variances
from latewood.pipeline.stats.plans.reviews import CampPeople, plan_reviews
from latewood.pipeline.stats.plans.states import plan_states
from latewood.pipeline.stats.plans.weighin import mass_trends
from latewood.pipeline.stats.plans.whatif import what_if

START = date(2033, 1, 3)
LEVEL_SD = 0.03


def held_camp(rng, stays=40, days=84):
    """Weigh-ins (day, stay) of athletes who gain .8 kg a week, two thirds of them with a hold of four weeks."""
    week = np.arange(days)[:, None] / 7
    begins = rng.uniform(2, 7, stays)
    held = (np.arange(stays) % 3 > 0) & (week >= begins) & (week < begins + 4)
    rate = np.where(held, 0.0, rng.normal(0.8, 0.1, stays))
    mass = 72 + np.cumsum(rate / 7 + rng.normal(0, LEVEL_SD, (days, stays)), axis=0)
    readings = (rng.random((days, stays)) < 0.7).astype(np.int64)
    readings[0] = 1
    return Weighed(mass + rng.normal(0, 0.3, (days, stays)), readings)


def test_holds_are_not_taken_for_wander():
    weighed = held_camp(np.random.default_rng(11))
    one = estimate_variances(weighed, weighed.kg[0]).variances
    both = estimate_course(weighed, weighed.kg[0])
    assert both.variances.level_sd**2 + both.variances.rate_sd**2 < 0.7 * (one.level_sd**2 + one.rate_sd**2)
    assert 0.03 < both.handover.hold < 0.2
    assert 0.1 < both.handover.restart < 0.5


def test_without_weighins_holds_are_as_usual():
    nothing = Weighed(np.zeros((3, 0)), np.zeros((3, 0), dtype=np.int64))
    assert estimate_course(nothing, np.zeros(0)) == USUAL_COURSE


@pytest.fixture(scope="module")
def camp():
    """Weigh-ins of a camp as a frame, a plan each, and its people."""
    weighed = held_camp(np.random.default_rng(12), stays=12)
    day, stay = np.nonzero(weighed.readings)
    ids = np.array([f"a{at:02d}" for at in range(12)], dtype=object)
    weighins = pd.DataFrame({
        "athlete_id": ids[stay], "stay_id": ids[stay], "camp_id": "c", "kg": weighed.kg[day, stay],
        "measured_on": np.datetime64(START) + day.astype("timedelta64[D]"),
    })  # fmt: skip
    plans = pd.DataFrame({
        "plan_id": ids, "version": 1, "athlete_id": ids, "stay_id": ids, "ended_on": None, "start_on": START,
        "start_kg": 72.0, "target_kg": np.linspace(74.0, 82.0, 12), "target_on": date(2033, 4, 25),
    })  # fmt: skip
    people = pd.DataFrame({"athlete_id": ids, "birth_date": date(2016, 1, 1)})
    stays = pd.DataFrame({"stay_id": ids, "athlete_id": ids, "arrived_on": START})
    return weighins, plans, CampPeople(people=people, stays=stays)


def test_a_what_if_of_the_plan_itself_has_the_chance_of_its_review(camp):
    weighins, plans, people = camp
    fit = mass_trends(weighins)
    states = {one.plan_id: one for one in plan_states(plans, people, fit)}
    for review, target in zip(plan_reviews(plans, people, fit), plans["target_kg"], strict=True):
        again = what_if(states[review.plan_id], target, date(2033, 4, 25))
        assert again.chance == pytest.approx(review.chance_target, abs=1e-6)
        assert (again.low, again.high) == pytest.approx((review.forecast_low, review.forecast_high), abs=1e-6)
        assert 0.0 < states[review.plan_id].held < 1.0


def test_one_athlete_with_kept_values_is_reviewed_as_in_the_whole_camp(camp):
    weighins, plans, people = camp
    fit = mass_trends(weighins)
    whole = {one.plan_id: one for one in plan_reviews(plans, people, fit)}
    alone = mass_trends(weighins[weighins["stay_id"] == "a05"], fit.variances, fit.course)
    (review,) = plan_reviews(plans[plans["plan_id"] == "a05"], people, alone)
    for name in ("rate", "rate_low", "rate_high", "forecast_kg", "chance_target", "trend_kg"):
        assert getattr(review, name) == pytest.approx(getattr(whole["a05"], name), abs=1e-9)
