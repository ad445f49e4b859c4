"""Of what a young athlete gained, how much fits growth: which days, which mass, how sure, and when not."""

from datetime import date, timedelta
from importlib import resources

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.growth.cdc import growth_share
from latewood.pipeline.stats.growth.shares import NORMAL, growth_shares

TABLE = pd.read_csv(str(resources.files("latewood.pipeline.stats.growth") / "cdc_lms.csv"))
START = date(2032, 6, 1)
BORN = date(2018, 1, 10)  # 172 completed months at the start
PEOPLE = pd.DataFrame({"athlete_id": ["a"], "birth_date": [BORN], "sex": ["male"]})
HEIGHT_ERROR = 0.3  # cm
MASS_SE = 0.2  # kg


def heights(*rows, athlete="a"):
    """Sessions of standing height from (stay, day, cm)."""
    return pd.DataFrame({
        "session_id": [f"{athlete}-{stay}-{day}" for stay, day, _ in rows],
        "athlete_id": athlete,
        "stay_id": [stay for stay, _, _ in rows],
        "held_on": [START + timedelta(days=day) for _, day, _ in rows],
        "measure": "standing_height",
        "value": [cm for _, _, cm in rows],
    })


def masses(*rows):
    """The mass trend from (stay, day, kg)."""
    return pd.DataFrame({
        "stay_id": [stay for stay, _, _ in rows],
        "on_date": [START + timedelta(days=day) for _, day, _ in rows],
        "smoothed_kg": [kg for _, _, kg in rows],
        "smoothed_se": MASS_SE,
    })


GREW = heights(("s", 0, 165.0), ("s", 90, 167.0))
GAINED = masses(("s", 0, 55.0), ("s", 90, 58.0))


def shares(sessions=GREW, mass=GAINED, people=PEOPLE, error=HEIGHT_ERROR):
    return growth_shares(sessions, mass, people, TABLE, error)


def test_a_stay_is_read_from_its_first_to_its_last_height():
    (result,) = shares()
    expected = growth_share(TABLE, "male", (172, 175), (165.0, 167.0), (55.0, 58.0))
    assert (result.span, result.n_heights, result.verdict, result.reason) == ("stay", 2, "shown", "")
    assert (result.first_on, result.last_on) == (START, START + timedelta(days=90))
    assert (result.height_change, result.gained) == (pytest.approx(2.0), pytest.approx(3.0))
    assert result.fits_growth == pytest.approx(expected.by_build, abs=1e-9)
    assert result.by_age == pytest.approx(expected.by_age, abs=1e-9)
    assert result.beyond == pytest.approx(3.0 - expected.by_build, abs=1e-9)


@pytest.mark.slow
def test_intervals_are_those_of_repeated_measurement():
    # Measure the same boy 4,000 times: heights off by .3 cm, masses by .2 kg.
    rng = np.random.default_rng(3301)
    cm = np.array([165.0, 167.0]) + rng.normal(0.0, HEIGHT_ERROR, (4000, 2))
    kg = np.array([55.0, 58.0]) + rng.normal(0.0, MASS_SE, (4000, 2))
    drawn = [growth_share(TABLE, "male", (172, 175), tuple(h), tuple(m)) for h, m in zip(cm, kg, strict=True)]
    fits, beyond = np.array([(d.by_build, d.beyond) for d in drawn]).T
    (result,) = shares()
    # the SD of 4,000 draws is known to 1.1 %
    assert (result.fits_high - result.fits_low) / 2.0 == pytest.approx(NORMAL * fits.std(), rel=0.04)
    assert (result.beyond_high - result.beyond_low) / 2.0 == pytest.approx(NORMAL * beyond.std(), rel=0.04)
    assert result.gained_high - result.gained == pytest.approx(NORMAL * MASS_SE * np.sqrt(2.0))
    assert result.height_high - result.height_change == pytest.approx(NORMAL * HEIGHT_ERROR * np.sqrt(2.0))


def test_heights_within_a_week_of_an_end_count_as_one():
    sessions = heights(("s", 0, 164.8), ("s", 2, 165.2), ("s", 45, 166.9), ("s", 90, 167.0))
    (result,) = shares(sessions)
    assert result.n_heights == 4
    assert result.height_change == pytest.approx(2.0)  # 167 less the mean of the first two
    half = NORMAL * HEIGHT_ERROR * np.sqrt(0.5 + 1.0)
    assert result.height_high - result.height_change == pytest.approx(half)


def test_mass_between_two_days_of_the_trend_lies_on_a_straight_line():
    (result,) = shares(mass=masses(("s", -4, 54.6), ("s", 4, 55.4), ("s", 90, 58.0)))
    assert result.gained == pytest.approx(3.0)


def test_an_athlete_who_returns_has_the_stay_and_all_stays_since_the_first_height():
    sessions = heights(("s", 0, 165.0), ("s", 60, 166.0), ("t", 300, 169.0), ("t", 360, 170.0))
    mass = masses(("s", 0, 55.0), ("s", 60, 56.0), ("t", 300, 60.0), ("t", 360, 61.5))
    result = {(f.stay_id, f.span): f for f in shares(sessions, mass)}
    assert set(result) == {("s", "stay"), ("t", "stay"), ("t", "all stays")}
    full = result["t", "all stays"]
    assert (full.first_on, full.n_heights) == (START, 4)
    assert (full.height_change, full.gained) == (pytest.approx(5.0), pytest.approx(6.5))
    assert result["t", "stay"].gained == pytest.approx(1.5)


def test_a_stay_of_one_height_still_has_the_span_since_the_first():
    sessions = heights(("s", 0, 165.0), ("t", 300, 169.0))
    (result,) = shares(sessions, masses(("s", 0, 55.0), ("t", 300, 60.0)))
    assert (result.stay_id, result.span, result.gained) == ("t", "all stays", pytest.approx(5.0))


def test_a_fall_within_the_error_of_height_is_no_growth_and_a_larger_one_is_refused():
    still = shares(heights(("s", 0, 165.0), ("s", 90, 165.0)))[0]
    (within,) = shares(heights(("s", 0, 165.0), ("s", 90, 164.5)))
    assert (within.verdict, within.height_change) == ("shown", pytest.approx(-0.5))
    assert within.fits_growth == pytest.approx(still.fits_growth, abs=1e-9)
    (fell,) = shares(heights(("s", 0, 165.0), ("s", 90, 164.0)))
    assert (fell.verdict, fell.fits_growth) == ("refused", None)
    assert fell.reason == "height is lower than before: measure again"


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        (
            {"sessions": heights(("s", 0, 165.0), ("s", 27, 165.5))},
            "less than four weeks between the heights",
        ),
        ({"error": None}, "the measurement error of height is not known"),
        ({"mass": masses(("s", 0, 55.0), ("s", 79, 58.0))}, "no body mass near the days"),
        ({"mass": GAINED.iloc[:0]}, "no body mass near the days"),
        ({"mass": masses(("s", 0, 80.0), ("s", 90, 83.0))}, "outside the 5th to 95th percentile"),
    ],
)
def test_refusals_give_their_reason_and_no_share(changed, reason):
    (result,) = shares(**changed)
    assert result.verdict == "refused"
    assert reason in result.reason
    parts = (
        result.fits_growth,
        result.fits_low,
        result.fits_high,
        result.beyond,
        result.beyond_low,
        result.by_age,
    )
    assert parts == (None,) * 6


def test_four_weeks_and_ten_days_to_the_next_mass_are_enough():
    (result,) = shares(heights(("s", 0, 165.0), ("s", 28, 165.5)), masses(("s", 0, 55.0), ("s", 18, 56.0)))
    assert result.verdict == "shown"


@pytest.mark.parametrize(
    "people",
    [
        PEOPLE.assign(birth_date=date(2012, 8, 1)),  # 20 on 1 August 2032, before the last height
        PEOPLE.assign(birth_date=None),
        PEOPLE.assign(sex="not stated"),
        PEOPLE.iloc[:0],
    ],
)
def test_adults_and_athletes_without_birth_date_or_sex_have_no_row(people):
    assert shares(people=people) == ()


def test_the_day_before_the_twentieth_birthday_still_counts():
    born = date(2012, 8, 31)  # the last height is on 30 August 2032
    assert len(shares(people=PEOPLE.assign(birth_date=born))) == 1


def test_other_measures_missing_values_and_sessions_outside_stays_are_left_out():
    noise = pd.concat([
        heights(("s", 95, 190.0)).assign(measure="sitting_height"),
        heights(("s", 96, np.nan)),
        heights((None, 97, 190.0)),
    ])
    (result,) = shares(pd.concat([noise, GREW], ignore_index=True))
    assert (result.n_heights, result.height_change) == (2, pytest.approx(2.0))
