"""The rate of a plan is that of its last three weeks: what lies before does not count, and the scatter is held."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.engine.kalman import TYPICAL
from latewood.pipeline.stats.plans.massvariance import USUAL_COURSE
from latewood.pipeline.stats.plans.weighin import PACE_DAYS, PACE_WIDER, last_modes

FIRST = np.datetime64("2031-06-02")


def weighed(mass: np.ndarray, noise: float = 0.0, seed: int = 0) -> pd.DataFrame:
    """Weigh-ins every morning of one athlete."""
    days = FIRST + np.arange(mass.size).astype("timedelta64[D]")
    kg = mass + noise * np.random.default_rng(seed).normal(size=mass.size)
    return pd.DataFrame({
        "athlete_id": "a",
        "stay_id": "a",
        "measured_on": days.astype("datetime64[s]"),
        "kg": kg,
    })


def pace(mass: np.ndarray, **given: float) -> tuple[float, float]:
    found = last_modes(weighed(mass, **given), USUAL_COURSE).pace
    return float(found.centre()[0]), float(found.spread()[0])


def test_what_lies_before_three_weeks_counts_for_little():
    """Ten weeks of .7 kg, then three of nothing, and the other way round: the mean of the whole is .54 and .16."""
    day, turn = np.arange(92), 91 - PACE_DAYS
    stopped, spread = pace(72.0 + 0.1 * np.minimum(day, turn))
    began, _ = pace(72.0 + 0.1 * np.maximum(day - turn, 0))
    assert stopped < 0.25 < 0.35 < began
    assert stopped < 1.96 * spread


def test_in_a_young_plan_the_rate_is_that_since_it_began():
    rate, spread = pace(72.0 + 0.06 * np.arange(12))
    longer, less = pace(72.0 + 0.06 * np.arange(40))
    assert 0.2 < rate < longer < 0.45  # pulled towards what is usual by little knowledge
    assert spread > 2 * less


def test_the_spread_is_that_of_the_difference_of_two_levels_made_wider():
    """Known levels at both ends, water and scale apart: √(2 · their error²) over three weeks is the least it can be."""
    final = last_modes(weighed(72.0 + 0.05 * np.arange(60)), USUAL_COURSE)
    cov, weeks = final.modes.cov[..., 0], PACE_DAYS / 7
    between = cov[0, 0] + cov[3, 3] - 2 * cov[0, 3]
    assert final.pace.sd[:, 0] == pytest.approx(PACE_WIDER * np.sqrt(between) / weeks)
    assert np.all(final.pace.sd[:, 0] > TYPICAL.level_sd * np.sqrt(PACE_DAYS) / weeks * 0.7)


def test_nineteen_in_twenty_rates_of_noisy_mornings_lie_in_the_range():
    true, held = 0.35, []
    for seed in range(40):
        rate, spread = pace(72.0 + true / 7 * np.arange(50), noise=0.45, seed=seed)
        held.append(abs(rate - true) < 1.96 * spread)
    assert np.mean(held) >= 0.9
