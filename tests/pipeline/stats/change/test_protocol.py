"""What a plan of test days lets a camp see: its days, its noise, and shares against the power of a plain z test."""

from math import pi, sqrt

import numpy as np
import pytest
from scipy import stats

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.catalogue.model import SummaryRule
from latewood.pipeline.stats.change.protocol import Schedule, SessionNoise, give_or_take, seen

MEASURE = load_catalogue().measures["exit_speed"]
NOISE = SessionNoise(session=1.0, trial=1.6, trials=6.0, summary=SummaryRule.MEDIAN)
FOUR = Schedule(weeks=9.0, every=3.0, twice=False, trials=6)


def test_days_hold_arrival_and_exit_and_a_second_first_day():
    assert FOUR.at.tolist() == [0.0, 3.0, 6.0, 9.0]
    assert Schedule(weeks=10.0, every=3.0, twice=False, trials=6).at.tolist() == [0.0, 3.0, 6.0, 10.0]
    assert Schedule(weeks=9.0, every=3.0, twice=True, trials=6).at[1] == pytest.approx(2.0 / 7.0)


def test_more_trials_take_away_the_noise_of_trials_only():
    # a median of n varies by pi/2 times as much as a mean (published for large n); simulated beside it
    rng = np.random.default_rng(1)
    assert np.median(rng.normal(0.0, 1.6, (200_000, 24)), axis=1).std() == pytest.approx(
        1.6 * sqrt(pi / 2 / 24), rel=0.03
    )
    assert NOISE.with_trials(6) == pytest.approx(1.0)
    assert NOISE.with_trials(24) == pytest.approx(sqrt(1.0 - 1.6**2 * pi / 2 * (1 / 6 - 1 / 24)))
    best = SessionNoise(session=1.0, trial=1.6, trials=6.0, summary=SummaryRule.BEST)
    assert best.with_trials(24) == 1.0


def test_shares_are_near_the_power_of_a_z_test_and_below_it():
    """One look at four even sessions: slope's error over the stay is 3/sqrt(5) of the noise; limit 1.96."""
    result = seen(FOUR, NOISE, 80, MEASURE)
    theory = [stats.norm.sf(1.96 - size * sqrt(5.0) / 3.0) for size in (1.0, 2.0, 3.0)]
    # 240 athletes each; first day, course and noise are learned, which costs some
    for share, most in zip(result.found, theory, strict=True):
        assert most - 0.2 < share < most + 0.09
    assert result.found[0] < result.found[1] < result.found[2]
    assert result.false <= 0.05 + 0.042
    assert result.sessions == 4


def test_a_share_of_few_made_athletes_is_given_with_room():
    # 12 camps of 32: 96 athletes of each size, one half give or take 10 of 100; of 8: 24 athletes, 20 of 100
    assert give_or_take(32) == pytest.approx(1.96 * sqrt(0.25 / 96))
    assert give_or_take(8) == pytest.approx(1.96 * sqrt(0.25 / 24))


def test_too_few_tests_or_athletes_are_refused():
    with pytest.raises(ValueError, match="a verdict needs 4"):
        seen(Schedule(weeks=6.0, every=3.0, twice=False, trials=6), NOISE, 40, MEASURE)
    with pytest.raises(ValueError, match="8 at least"):
        seen(FOUR, NOISE, 5, MEASURE)
