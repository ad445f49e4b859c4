"""The weekly decision table row by row, and its scenarios with their numbers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.engine.kalman import TYPICAL
from latewood.pipeline.stats.plans.allowed import PlannedGain, growth_stages, permission
from latewood.pipeline.stats.plans.guards import change_between, per_kg_change, plan_guards
from latewood.pipeline.stats.plans.results import PlanState
from latewood.pipeline.stats.plans.rules import STATUSES, PlanSettings
from latewood.pipeline.stats.plans.since import gls_rate, plan_since
from latewood.pipeline.stats.plans.table import TABLE, Evidence, first_row, with_tests
from latewood.pipeline.stats.plans.whatif import energy_gap, state_without_weighins, what_if

GOOD = Evidence(
    status="on plan", strength_up=0.95, per_kg_falls=0.1, slower=0.1, output_up=0.9, output_down=0.05
)

ROWS = [
    ("0", replace(GOOD, referred=True)),
    ("0", Evidence(status="refer", chance_refer=0.1)),
    ("1", Evidence(status="refer", chance_refer=0.85)),
    ("barred", Evidence(status="not allowed")),
    ("2", Evidence(status="too fast")),
    ("3", Evidence(status="too few weigh-ins")),
    ("4", Evidence(status="too early to tell")),
    ("5", GOOD),
    ("6", replace(GOOD, output_up=0.5)),
    ("7", replace(GOOD, per_kg_falls=0.6)),
    ("8", replace(GOOD, slower=0.8)),
    ("9", replace(GOOD, slower=0.66)),
    ("10", replace(GOOD, status="stalled")),
    ("10", replace(GOOD, status="target out of reach")),
    ("11", Evidence(status="stalled", attendance_poor=True)),
    ("12", Evidence(status="stalled")),
    ("12", Evidence(status="past its date")),
    ("13", Evidence(status="reached")),
    ("above", Evidence(status="reached", above_target=True)),
    ("unlikely", replace(GOOD, chance_target=0.14)),
    ("unlikely", replace(GOOD, output_up=0.5, chance_target=0.24)),
    ("unlikely", Evidence(status="on plan", chance_target=0.16)),
    ("5", replace(GOOD, chance_target=0.25)),
    ("9", replace(GOOD, slower=0.66, chance_target=0.14)),
    ("14", Evidence(status="on plan", height_change=1.0)),
    ("open", Evidence(status="on plan", height_change=0.9)),
]


@pytest.mark.parametrize(("number", "evidence"), ROWS)
def test_each_row_of_the_table_is_the_first_that_holds(number, evidence) -> None:
    assert first_row(evidence).number == number


def test_every_row_and_every_status_is_reached() -> None:
    assert {number for number, _ in ROWS} == {row.number for row in TABLE}
    assert all(first_row(Evidence(status=status)) for status in STATUSES)


def test_referral_comes_before_everything() -> None:
    for _, evidence in ROWS:
        assert first_row(replace(evidence, referred=True)).number == "0"


def test_an_athlete_who_pays_with_speed_is_never_told_to_go_on() -> None:
    for output in (0.1, 0.5, 0.95):
        assert first_row(replace(GOOD, slower=0.9, output_up=output)).number == "8"


# --- numbers of the scenarios; tolerance is the rounding in which they are stated ------------------------


def test_mass_up_and_split_slower_before_and_after_the_retests() -> None:
    one = change_between([7.12], [7.21], 0.07)
    assert one.standard_error == pytest.approx(0.099, abs=0.0005)
    assert one.chance_above(0.0) == pytest.approx(0.82, abs=0.005)
    assert one.chance_above(0.05) == pytest.approx(0.66, abs=0.005)
    assert first_row(replace(GOOD, slower=one.chance_above(0.05))).number == "9"
    # 0.7977: compared in whole per cent, as it is shown
    again = change_between([7.12, 7.10], [7.21, 7.20, 7.23], 0.07)
    assert again.change == pytest.approx(0.103, abs=0.0005)
    assert again.standard_error == pytest.approx(0.064, abs=0.0005)
    assert again.chance_above(0.0) == pytest.approx(0.95, abs=0.006)
    assert again.chance_above(0.05) == pytest.approx(0.80, abs=0.005)
    assert first_row(replace(GOOD, slower=again.chance_above(0.05))).number == "8"


def test_strength_without_mass_is_progress_without_mass() -> None:
    strength = change_between([112.0], [128.0], 4.0)
    assert strength.standard_error == pytest.approx(5.7, abs=0.05)
    assert strength.chance_above(0.0) == pytest.approx(0.998, abs=0.0005)
    ratio = per_kg_change(strength, 66.1, 66.3, 0.2)
    assert (ratio.before, ratio.after) == (pytest.approx(1.69, abs=0.005), pytest.approx(1.93, abs=0.005))
    output = change_between([60.2], [62.9], 1.1)
    assert output.standard_error == pytest.approx(1.56, abs=0.005)
    result = Evidence(
        status="stalled",
        strength_up=strength.chance_above(0.0),
        per_kg_falls=1.0 - ratio.chance_above(-0.03),
        output_up=output.chance_above(0.0),
        output_down=1.0 - output.chance_above(0.0),
    )
    assert first_row(result).words == "Progress without mass"


def test_a_stalled_plan_cannot_be_saved_with_its_old_target_and_date() -> None:
    old = permission(PlannedGain(start_kg=73.4, target_kg=75.5, weeks=3.0), age=17.0)
    assert old.percent == pytest.approx(0.95, abs=0.005)
    assert "above the ceiling of 0.5 %" in old.refused
    assert not permission(PlannedGain(start_kg=73.4, target_kg=74.5, weeks=3.0), age=17.0).refused
    assert not permission(PlannedGain(start_kg=73.4, target_kg=75.5, weeks=5.73), age=17.0).refused


def test_under_fourteen_or_before_the_growth_peak_no_plan_may_be_made() -> None:
    gentle = PlannedGain(start_kg=55.0, target_kg=55.5, weeks=8.0)
    assert "younger than 14" in permission(gentle, age=13.4).refused
    assert "before the growth peak" in permission(gentle, age=14.2, stage="before the growth peak").refused
    assert permission(gentle, age=14.2, stage="around the growth peak").refused == ""
    assert "birth date" in permission(gentle, age=None).refused


def test_an_adult_beyond_the_published_ceiling_needs_a_reason_and_a_minor_is_refused() -> None:
    fast = PlannedGain(start_kg=80.0, target_kg=84.8, weeks=10.0)  # 0.6 % a week
    adult = permission(fast, age=18.0)
    assert (adult.refused, "beyond the published ceiling" in adult.reason_for) == ("", True)
    assert "above the ceiling" in permission(fast, age=17.9).refused
    assert (
        "limit at which a gain is referred"
        in permission(PlannedGain(start_kg=80.0, target_kg=88.8, weeks=10.0), age=20.0).refused
    )
    near = permission(PlannedGain(start_kg=72.0, target_kg=75.5, weeks=10.0), age=16.0)  # 0.486 %
    assert "at the ceiling" in near.reason_for
    assert permission(PlannedGain(start_kg=72.0, target_kg=74.0, weeks=10.0), age=16.0).reason_for == ""
    assert (
        "physician or dietitian"
        in permission(PlannedGain(start_kg=72.0, target_kg=71.0, weeks=5.0), age=20.0).refused
    )


# --- what another target or date would mean --------------------------------------------------------------


STATE = PlanState(
    stay_id="T1@K", plan_id="P1", as_of=date(2032, 7, 6), kg=73.9, kg_se=0.15, rate=0.31, rate_se=0.10,
    covariance=0.0, level_sd=0.0, rate_sd=0.0,
)  # fmt: skip


def test_what_if_reproduces_an_honest_middle_at_a_steady_rate() -> None:
    # 73.9 + 5 * 0.31 = 75.45; the spread is 0.15 with 0.10 times the damped 4.53 weeks: 0.477, stated as 0.52.
    result = what_if(STATE, 75.5, date(2032, 8, 10), rate=0.31)
    assert result.expected_kg == pytest.approx(75.45, abs=0.005)
    assert result.needed_rate == pytest.approx(0.32, abs=0.001)
    assert result.needed_percent == pytest.approx(0.43, abs=0.005)
    assert result.chance == pytest.approx(0.46, abs=0.02)
    fading = what_if(STATE, 75.5, date(2032, 8, 10))
    assert fading.expected_kg == pytest.approx(73.9 + 0.31 * 25 * (1 - np.exp(-0.2)), abs=0.01)
    assert fading.chance < result.chance
    assert what_if(STATE, 75.5, date(2032, 8, 24)).chance > fading.chance


def test_what_if_refuses_a_date_that_has_passed() -> None:
    with pytest.raises(ValueError, match="give a later date"):
        what_if(STATE, 75.5, date(2032, 7, 6))


def test_without_weighins_there_is_a_needed_rate_and_no_chance() -> None:
    unknown = what_if(state_without_weighins(72.0, date(2032, 6, 1)), 73.0, date(2032, 6, 29))
    assert unknown.needed_rate == pytest.approx(0.25)
    assert unknown.chance is None


def test_the_energy_of_a_gap_is_a_wide_range() -> None:
    # 0.2 kg a week: 0.2 * (0.25 * 9440 + 0.75 * 1820) / 7 = 106; with 75 % fat 215.
    assert energy_gap(0.2, 0.0) == (pytest.approx(106.4, abs=0.1), pytest.approx(215.3, abs=0.1))
    low, high = energy_gap(0.2, 0.1)
    assert low < 106 < 215 < high


# --- rates before and after a decision -------------------------------------------------------------------


def test_the_rate_is_that_of_ordinary_least_squares_where_readings_are_independent() -> None:
    plain = replace(TYPICAL, water_sd=0.0, level_sd=0.0)
    days, kg = np.arange(14.0), 70.0 + 0.05 * np.arange(14.0) + np.tile([0.1, -0.1], 7)
    rate, error = gls_rate(days, kg, plain)
    assert rate == pytest.approx(7 * np.polyfit(days, kg, 1)[0])
    assert error == pytest.approx(7 * plain.reading_sd / np.sqrt(((days - 6.5) ** 2).sum()))
    assert gls_rate(days, kg, TYPICAL)[1] > error


def test_before_and_after_a_decision_cover_the_truth() -> None:
    rng = np.random.default_rng(20330801)
    inside, n = 0, 300
    for _ in range(n):
        days = np.arange(42)
        water = np.zeros(42)
        water[0] = rng.normal(0, TYPICAL.water_sd)
        for day in range(1, 42):
            fresh = TYPICAL.water_sd * np.sqrt(1 - TYPICAL.persistence**2)
            water[day] = TYPICAL.persistence * water[day - 1] + rng.normal(0, fresh)
        level = 70 + np.where(days <= 21, 0.0, 0.4 * (days - 21) / 7)
        level = level + np.cumsum(rng.normal(0, TYPICAL.level_sd, 42))
        use = pd.DataFrame({
            "stay_id": "S", "measured_on": pd.date_range("2033-06-01", periods=42).date,
            "kg": level + water + rng.normal(0, TYPICAL.reading_sd, 42), "used": True,
        })  # fmt: skip
        made = [{"event_id": "e", "plan_id": "P", "decided_on": date(2033, 6, 22)}]
        one = plan_since(made, {"P": "S"}, use, TYPICAL)[0]
        assert one.after_low is not None
        inside += one.after_low <= 0.4 <= one.after_high
    assert 0.91 <= inside / n <= 0.985  # 95 %, two standard errors of 300 runs


def test_too_few_weighins_since_a_decision_say_so() -> None:
    use = pd.DataFrame({
        "stay_id": "S", "measured_on": pd.date_range("2033-06-01", periods=24).date, "kg": 70.0, "used": True,
    })  # fmt: skip
    made = [{"event_id": "e", "plan_id": "P", "decided_on": date(2033, 6, 22)}]
    one = plan_since(made, {"P": "S"}, use, TYPICAL)[0]
    assert one.rate_before is not None
    assert one.rate_after is None
    assert one.reason.startswith("2 weigh-ins in 2 days since")


# --- tests beside a plan ---------------------------------------------------------------------------------


def test_guards_take_the_first_days_against_the_latest() -> None:
    sessions = pd.DataFrame(
        [
            ("sprint_60yd", date(2033, 6, 1), 7.12),
            ("sprint_60yd", date(2033, 6, 3), 7.10),
            ("sprint_60yd", date(2033, 7, 1), 7.15),
            ("sprint_60yd", date(2033, 7, 28), 7.21),
            ("sprint_60yd", date(2033, 8, 1), 7.20),
            ("trap_bar_deadlift", date(2033, 6, 1), 112.0),
            ("trap_bar_deadlift", date(2033, 8, 1), 128.0),
        ],
        columns=["measure", "held_on", "value"],
    ).assign(stay_id="S", line="x")
    plans = pd.DataFrame({"plan_id": ["P"], "stay_id": ["S"], "start_on": [date(2033, 6, 1)]})
    mass = pd.DataFrame({
        "stay_id": "S", "on_date": [date(2033, 6, 1), date(2033, 8, 1)], "smoothed_kg": [66.1, 66.3],
        "smoothed_se": 0.2,
    })  # fmt: skip
    errors = {("sprint_60yd", "x"): 0.07, ("trap_bar_deadlift", "x"): 4.0}
    result = {guard.role: guard for guard in plan_guards(plans, sessions, mass, errors)}
    assert result["split"].n_before == 2
    assert result["split"].n_after == 2
    assert result["split"].change == pytest.approx(0.095)
    assert result["split"].chance_worse == pytest.approx(0.74, abs=0.01)
    assert result["strength"].chance_better == pytest.approx(0.998, abs=0.0005)
    assert result["strength per kg"].after == pytest.approx(1.93, abs=0.005)
    evidence = with_tests(Evidence(status="on plan"), list(result.values()))
    assert evidence.slower == result["split"].chance_worse
    assert first_row(evidence).number == "9"


def test_the_growth_stage_of_a_late_maturer_is_around_the_peak() -> None:
    people = pd.DataFrame({"athlete_id": ["A", "B"], "birth_date": [date(2018, 6, 25), None], "sex": "male"})
    values = {"standing_height": 162.0, "sitting_height": 82.0, "body_mass": 50.0}
    sessions = pd.DataFrame([
        {"athlete_id": "A", "measure": measure, "held_on": date(2033, 8, 1), "value": value}
        for measure, value in values.items()
    ])
    (result,) = growth_stages(people, sessions)
    assert (result.athlete_id, result.stage) == ("A", "around the growth peak")


def test_settings_of_a_program_move_the_ceiling() -> None:
    strict = replace(PlanSettings(), ceiling_percent=0.3)
    assert permission(
        PlannedGain(start_kg=72.0, target_kg=75.0, weeks=10.0), age=17.0, settings=strict
    ).refused
