"""Is the chance of the target what it says? Known truth, fresh seeds."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.plans.reviews import CampPeople, plan_reviews
from latewood.pipeline.stats.plans.weighin import mass_trends

START = date(2033, 1, 3)


def series(rng, shape, phi, sd):
    out = rng.normal(0, sd, shape)
    for day in range(1, shape[0]):
        out[day] = phi * out[day - 1] + np.sqrt(1 - phi**2) * out[day]
    return out


def reviewed_camp(rng, stays=40, days=113, seen_until=70):
    """Reviews in week 10 of 16-week plans, and whether each athlete was at the target in week 16."""
    week = np.arange(days)[:, None] / 7
    begins = rng.uniform(0, 10, stays)
    stall = (rng.random(stays) < 0.25) & (week >= begins) & (week < begins + rng.uniform(3, 6, stays))
    rate = np.where(stall, 0, rng.normal(0.45, 0.22, stays) * np.exp(-week / 30))
    mass = rng.normal(72, 8, stays) + np.vstack([np.zeros(stays), np.cumsum(rate[:-1] / 7, axis=0)])
    mass += series(rng, (days, stays), np.exp(-1 / 28), 0.5)
    read = mass + series(rng, (days, stays), 0.6, 0.55) + rng.normal(0, 0.3, (days, stays))
    weighed = (rng.random((days, stays)) < rng.integers(3, 8, stays) / 7)[:seen_until]
    day, stay = np.nonzero(weighed)
    ids = np.array([f"a{at:03d}" for at in range(stays)], dtype=object)
    weighins = {
        "athlete_id": ids[stay],
        "stay_id": ids[stay],
        "camp_id": "c",
        "kg": read[:seen_until][weighed],
    }
    weighins["measured_on"] = np.datetime64(START) + day.astype("timedelta64[D]")
    start = mass[0] + rng.normal(0, 0.35, stays)
    target = start * (1 + rng.uniform(0.2, 0.5, stays) / 100 * 16)
    plans = {"plan_id": ids, "version": 1, "athlete_id": ids, "stay_id": ids, "ended_on": None}
    plans |= {"start_on": START, "start_kg": start, "target_kg": target, "target_on": date(2033, 4, 25)}
    people = pd.DataFrame({"athlete_id": ids, "birth_date": date(2016, 1, 1)})
    stays_frame = pd.DataFrame({"stay_id": ids, "athlete_id": ids, "arrived_on": START})
    fit = mass_trends(pd.DataFrame(weighins))
    camp = CampPeople(people=people, stays=stays_frame)
    return plan_reviews(pd.DataFrame(plans), camp, fit), mass[112], target


@pytest.mark.slow
def test_chance_of_the_target_and_forecast_keep_their_promise():
    text, observed, held = [], [], []
    for seed in range(2060, 2070):
        reviews, mass, target = reviewed_camp(np.random.default_rng(seed))
        text += [one.chance_target for one in reviews]
        observed += list(mass >= target)
        held += [one.forecast_low < kg < one.forecast_high for one, kg in zip(reviews, mass, strict=True)]
    text, observed = np.array(text), np.array(observed)
    assert text.size == 400
    assert abs(text.mean() - observed.mean()) < 0.05
    bins = np.digitize(text, [0.1, 0.3, 0.5, 0.7, 0.9])
    parts = [bins == at for at in range(6)]
    error = sum(part.mean() * abs(text[part].mean() - observed[part].mean()) for part in parts if part.any())
    # The mean gap between said and seen; binomial noise alone gives about .03 with 400 plans.
    assert error < 0.06
    assert 0.92 < np.mean(held) < 0.98
