from datetime import date
from importlib import resources

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from latewood.pipeline.stats.growth.cdc import (
    body_mass_index,
    growth_share,
    row_of_age,
    standing,
    value_of,
    whole_months,
    z_of,
)
from latewood.pipeline.stats.growth.maturity import BodySize, maturity_band

TABLE = pd.read_csv(str(resources.files("latewood.pipeline.stats.growth") / "cdc_lms.csv"))
ROWS = TABLE.to_dict("records")


# --- the reference ---------------------------------------------------------------------------------------


@given(row=st.sampled_from(ROWS), z=st.floats(-2.5, 2.5))
def test_score_and_value_are_inverse(row, z):
    lms = row["L"], row["M"], row["S"]
    assert float(z_of(value_of(z, *lms), *lms)) == pytest.approx(z, abs=1e-9)


def test_score_with_no_skew_is_the_limit():
    assert float(z_of(60, 0.0, 55, 0.15)) == pytest.approx(float(z_of(60, 1e-7, 55, 0.15)), abs=1e-6)
    assert float(value_of(0.5, 0.0, 55, 0.15)) == pytest.approx(
        float(value_of(0.5, 1e-7, 55, 0.15)), abs=1e-5
    )


def test_median_is_zero_and_percentiles_rise():
    values = np.linspace(45, 90, 40)
    result = [standing(TABLE, "weight", "male", 180, value).percentile for value in values]
    assert (np.diff(result) > 0).all()
    median = TABLE.query("measure == 'weight' and sex == 'male' and age_months == 180.5")["M"].item()
    assert standing(TABLE, "weight", "male", 180, median).z == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(
    ("born", "on", "months"),
    [
        (date(2018, 7, 15), date(2033, 1, 15), 174),
        (date(2018, 7, 15), date(2033, 1, 14), 173),
        (date(2018, 7, 31), date(2033, 2, 28), 174),
        (date(2020, 2, 29), date(2034, 2, 28), 167),
    ],
)
def test_completed_months(born, on, months):
    assert whole_months(born, on) == months


def test_a_completed_month_stands_in_its_half_month_row():
    assert row_of_age(174) == 174.5
    assert standing(TABLE, "height", "male", 174, 170.0).row_months == 174.5


@pytest.mark.parametrize(
    ("months", "known"), [(154, False), (155, True), (239, True), (240, True), (241, False)]
)
@pytest.mark.parametrize("measure", ["height", "weight", "bmi"])
def test_ages_outside_the_rows_are_refused(measure, months, known):
    result = standing(TABLE, measure, "female", months, 60.0)
    assert (result.z is not None) is known
    assert known or result.reason == "age is outside the growth reference, 13 to 20 years"


def test_sex_is_needed():
    result = standing(TABLE, "height", "", 180, 170.0)
    assert (result.z, result.percentile) == (None, None)
    assert result.reason.startswith("sex not stated")


# --- the share of growth ---------------------------------------------------------------------------------


def share(**changed):
    values = {"sex": "female", "months": (160, 163), "height_cm": (158.0, 160.4), "mass_kg": (55.0, 56.6)}
    return growth_share(TABLE, **(values | changed))


def test_share_of_a_girl_who_grew():
    # By hand from the rows 160.5 and 163.5: BMI 22.0317, its z kept, times 1.604 squared, less 55 kg.
    first, last = (
        tuple(
            TABLE.query(f"measure == 'bmi' and sex == 'female' and age_months == {at}.5")[
                ["L", "M", "S"]
            ].iloc[0]
        )
        for at in (160, 163)
    )
    kept = ((55 / 1.58**2 / first[1]) ** first[0] - 1) / (first[0] * first[2])
    expected = last[1] * (1 + last[0] * last[2] * kept) ** (1 / last[0]) * 1.604**2 - 55
    result = share()
    assert result.by_build == pytest.approx(expected, abs=1e-9)
    assert 1.7 < result.by_build < 2.3
    assert result.gained == pytest.approx(1.6)
    assert result.beyond == pytest.approx(1.6 - expected)


def test_no_growth_and_no_time_explain_nothing():
    result = share(months=(170, 170), height_cm=(165.0, 165.0), mass_kg=(60.0, 63.0))
    assert result.by_build == pytest.approx(0.0, abs=1e-9)
    assert result.by_age == pytest.approx(0.0, abs=1e-9)
    assert result.beyond == pytest.approx(3.0)


def test_more_height_explains_more_mass_but_not_by_age():
    small, tall = share(height_cm=(158.0, 159.0)), share(height_cm=(158.0, 162.0))
    assert tall.by_build > small.by_build
    assert tall.by_age == small.by_age


def test_median_child_growing_along_the_median_is_explained_by_either():
    rows = TABLE[TABLE["sex"] == "male"].set_index(["measure", "age_months"])["M"]
    height = rows["height", 174.5], rows["height", 180.5]
    mass = rows["weight", 174.5], rows["weight", 180.5]
    result = share(sex="male", months=(174, 180), height_cm=height, mass_kg=mass)
    assert result.by_age == pytest.approx(result.gained, abs=1e-9)
    assert result.by_build == pytest.approx(result.gained, abs=0.3)


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"months": (150, 163)}, "outside the growth reference"),
        ({"months": (238, 241)}, "outside the growth reference"),
        ({"sex": "not stated"}, "sex not stated"),
        ({"height_cm": (160.0, 159.0)}, "height is lower than before"),
        ({"mass_kg": (82.0, 84.0)}, "outside the 5th to 95th percentile"),
        ({"mass_kg": (36.0, 38.0)}, "outside the 5th to 95th percentile"),
    ],
)
def test_share_is_refused(changed, reason):
    result = share(**changed)
    assert (result.by_build, result.by_age, result.beyond) == (None, None, None)
    assert reason in result.reason


def test_body_mass_index():
    assert body_mass_index(60.0, 170.0) == pytest.approx(20.7612, abs=1e-4)


# --- maturity --------------------------------------------------------------------------------------------


def band(**changed):
    built = {"height_cm": 162.0, "sitting_cm": 82.0, "mass_kg": 50.0}
    size = BodySize(**(built | {key: changed.pop(key) for key in built if key in changed}))
    return maturity_band(**({"sex": "male", "age": 15.1} | changed), size=size)


def test_late_maturer_stands_around_the_peak():
    result = band()
    assert result.offset == pytest.approx(0.17, abs=0.006)
    assert (result.low, result.high) == (pytest.approx(result.offset - 1), pytest.approx(result.offset + 1))
    assert result.stage == "around the growth peak"


def test_band_is_the_standard_error_where_that_is_wider():
    result = band(level=0.95)
    assert result.high - result.offset == pytest.approx(1.96 * 0.59, abs=1e-3)


def test_without_sitting_height_another_equation_is_used():
    result = band(sitting_cm=None)
    assert result.method.startswith("Moore")
    assert result.high - result.low == pytest.approx(2.0)


def test_equations_that_disagree_leave_the_stage_open():
    # Short legs and a long trunk: Mirwald says after the peak, Moore from height alone still around it.
    result = band(age=14.8, height_cm=164.0, sitting_cm=92.0, mass_kg=62.0)
    assert result.offset > 1
    assert result.stage == "uncertain"


@pytest.mark.parametrize(("age", "known"), [(7.9, False), (8.0, True), (16.0, True), (16.1, False)])
@pytest.mark.parametrize("sex", ["male", "female"])
def test_ages_outside_the_sample_are_refused(sex, age, known):
    result = band(sex=sex, age=age)
    assert (result.offset is not None) is known
    assert known or result.reason == "the equations hold from 8 to 16 years only"


def test_band_needs_a_sex():
    assert band(sex="").reason.startswith("sex not stated")
