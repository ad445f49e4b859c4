"""The catalogue: what it holds, what a program may change, and how a wrong file is refused."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.declare import REP_FORMULAS
from latewood.pipeline.catalogue.document import catalogue_markdown
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.catalogue.lookup import (
    age_years,
    band_for,
    decimals_in,
    find_measure,
    find_rating,
    find_value,
    line_label,
    line_of,
    parse_line,
)
from latewood.pipeline.catalogue.model import FAMILIES, Better, Measure, SummaryRule
from latewood.pipeline.catalogue.units import convert

CATALOGUE = load_catalogue()
MEASURES = list(CATALOGUE.measures.values())
EACH = pytest.mark.parametrize("measure", MEASURES, ids=lambda m: m.key)
SEGMENTS = ("pelvis", "torso", "lead_arm", "upper_arm", "forearm", "hand", "bat")

FAMILY_KEYS = {
    "build": "standing_height sitting_height wingspan body_mass body_fat_skinfold skinfold_sum",
    "strength": "trap_bar_deadlift squat bench_press pull_up_reps grip_strength",
    "jump_power": "countermovement_jump broad_jump lateral_bound medicine_ball_throw",
    "speed": "sprint_10yd sprint_30yd sprint_60yd home_to_first shuttle_5_10_5",
    "skill_output": "exit_speed bat_speed launch_angle pitch_speed windmill_pitch_speed throw_speed pop_time",
    "movement": " ".join([
        "hip_shoulder_separation front_knee_landing front_knee_finish front_knee_extension",
        "trunk_side_tilt trunk_forward_tilt shoulder_abduction_landing drive_leg_knee stride_length",
        "step_shin_angle step_trunk_angle",
        *(f"{segment}_peak_speed" for segment in SEGMENTS),
        *(f"{segment}_peak_time" for segment in SEGMENTS),
        "obs_drive_leg_valgus obs_early_trunk_rotation obs_front_leg_stabilisation obs_first_step_type",
        "obs_arm_drag obs_casting obs_lunge obs_head_pull obs_trunk_tilt",
    ]),
}


@pytest.mark.parametrize("family", FAMILIES)
def test_the_families_hold_their_measures_in_order(family: str) -> None:
    assert [m.key for m in CATALOGUE.of_family(family)] == FAMILY_KEYS[family].split()


@EACH
def test_every_protocol_is_two_sentences_and_every_figure_has_a_source(measure: Measure) -> None:
    assert len(re.findall(r"[.](?=\s|$)", measure.protocol)) == 2, measure.protocol
    assert measure.source
    assert measure.summary_reason.endswith(".")


@EACH
def test_declared_figures_agree_with_each_other(measure: Measure) -> None:
    span = measure.hard_high - measure.hard_low
    assert 0 < measure.resolution <= span / 2
    assert 1 <= measure.keep <= measure.trials
    if measure.typical_error is not None:
        assert measure.resolution / 4 <= measure.typical_error < span / 8


@EACH
def test_canonical_units(measure: Measure) -> None:
    assert measure.unit in {"kg", "cm", "mm", "s", "ms", "m/s", "m", "deg", "deg/s", "1", "%", "rating"}


@EACH
def test_a_gain_is_positive_when_better(measure: Measure) -> None:
    assert measure.gain(2.0, 3.0) == (-1.0 if measure.better is Better.LOWER else 1.0)


def test_skill_outputs_count_their_median_and_say_why() -> None:
    for measure in CATALOGUE.of_family("skill_output"):
        assert measure.summary is SummaryRule.MEDIAN
        assert "not biased by the number of trials" in measure.summary_reason


def test_sixty_yards_count_the_mean() -> None:
    assert CATALOGUE.measures[handles.SPRINT_60YD].summary is SummaryRule.MEAN


# Common practice, no source: ranges, gates and typical errors in the unit the trade speaks.
@pytest.mark.parametrize(
    ("key", "unit", "sport", "age", "band", "hard"),
    [
        ("standing_height", "cm", "baseball", 16.0, (160, 190), (120, 215)),
        ("body_mass", "kg", "softball", 13.9, (35, 70), (28, 160)),
        ("pitch_speed", "mph", "baseball", 17.0, (74, 92), (25, 106)),
        ("windmill_pitch_speed", "mph", "softball", 14.5, (44, 57), (20, 78)),
        ("throw_speed", "mph", "softball", 18.9, (53, 67), (20, 108)),
        ("sprint_10yd", "s", "baseball", 12.0, (1.75, 2.15), (1.35, 3.0)),
        ("sprint_60yd", "s", "softball", 20.0, (7.4, 8.8), (6.0, 13.0)),
        ("home_to_first", "s", "softball", 15.0, (2.8, 3.4), (2.4, 6.5)),
        ("pop_time", "s", "baseball", 16.9, (1.95, 2.4), (1.4, 3.5)),
        ("torso_peak_speed", "deg/s", "softball", 16.0, (600, 1450), (150, 4000)),
    ],
)
def test_bands_and_limits_in_trade_units(
    key: str, unit: str, sport: str, age: float, band: tuple[float, float], hard: tuple[float, float]
) -> None:
    measure = CATALOGUE.measures[key]
    result = band_for(measure, sport, age)
    assert result is not None
    assert [convert(edge, measure.unit, unit) for edge in (result.low, result.high)] == pytest.approx(band)
    assert [convert(e, measure.unit, unit) for e in (measure.hard_low, measure.hard_high)] == pytest.approx(
        hard
    )


def test_typical_error_stated_in_mph_is_kept_in_metres_per_second() -> None:
    # 1.1 mph x 0.44704 (exact, NIST SP 811)
    assert CATALOGUE.measures[handles.EXIT_SPEED].typical_error == pytest.approx(0.491744, rel=1e-12)
    assert CATALOGUE.measures[handles.EXIT_SPEED].resolution == pytest.approx(0.044704, rel=1e-12)


def test_there_is_no_band_without_age_or_outside_the_ages() -> None:
    height = CATALOGUE.measures[handles.STANDING_HEIGHT]
    assert band_for(height, "baseball", None) is None
    assert band_for(height, "baseball", 11.99) is None
    assert band_for(height, "baseball", 26.0) is None
    assert band_for(height, None, 16.0) is None


def test_baseball_and_softball_never_share_a_line() -> None:
    for measure in CATALOGUE.of_family("skill_output"):
        fields = {c.key for c in measure.must_match}
        if measure.unit == "m/s" and measure.key != handles.BAT_SPEED:
            assert "ball" in fields
    assert "base_distance" in {c.key for c in CATALOGUE.measures[handles.POP_TIME].must_match}
    assert "base_distance" in {c.key for c in CATALOGUE.measures[handles.HOME_TO_FIRST].must_match}


def test_only_material_and_device_may_be_joined_by_paired_days() -> None:
    joined = {c.key for m in MEASURES for c in m.conditions if c.bridgeable}
    assert joined == {"bat", "device"}


def test_body_fat_is_for_adults_and_never_exported() -> None:
    assert {m.key: m.minimum_age for m in MEASURES if not m.exported} == {
        "body_fat_skinfold": 18,
        "skinfold_sum": 16,
    }


def test_tested_lifts_name_their_equation() -> None:
    assert {m.key: m.rep_formula for m in MEASURES if m.rep_formula} == {
        "trap_bar_deadlift": "epley",
        "squat": "epley",
        "bench_press": "epley",
    }
    assert "epley" in REP_FORMULAS


def test_observations_are_rated_in_three_words() -> None:
    for measure in MEASURES:
        if measure.key.startswith("obs_"):
            assert (measure.kind, measure.ratings) == ("rating", ("none", "slight", "marked"))
            assert (measure.hard_low, measure.hard_high) == (0, 2)


@pytest.mark.parametrize(
    ("text", "grade"),
    [("none", 0), ("Slight", 1), (" MARKED ", 2), ("2", 2), ("3", None), ("", None), ("²", None)],
)
def test_ratings_are_read_as_word_or_figure(text: str, grade: int | None) -> None:
    assert find_rating(CATALOGUE.measures["obs_lunge"], text) == grade


def test_handles_are_keys_of_the_catalogue() -> None:
    names = [value for name, value in vars(handles).items() if name.isupper()]
    keys = [key for value in names for key in ((value,) if isinstance(value, str) else value)]
    assert len(keys) > 20
    assert [key for key in keys if key not in CATALOGUE.measures] == []


@pytest.mark.parametrize(
    ("text", "key"),
    [("exit_speed", "exit_speed"), ("Exit Speed", "exit_speed"), ("EXIT-VELO", "exit_speed"), ("60-Yard Dash",
     "sprint_60yd"), ("Weight", "body_mass"), ("hip shoulder separation", "hip_shoulder_separation")],
)  # fmt: skip
def test_measures_are_found_by_any_of_their_names(text: str, key: str) -> None:
    result = find_measure(CATALOGUE, text)
    assert result is not None
    assert result.key == key


@pytest.mark.parametrize("text", ["", "exit", "60", "speed"])
def test_half_a_name_is_no_name(text: str) -> None:
    assert find_measure(CATALOGUE, text) is None


def test_lines_and_their_words() -> None:
    exit_speed = CATALOGUE.measures[handles.EXIT_SPEED]
    line = line_of(exit_speed, {"device": "Radar gun", "delivery": "TEE", "bat": "metal", "ball": "baseball"})
    assert line == "delivery=tee; bat=metal; ball=baseball; device=radar"
    assert line_label(exit_speed, line) == "tee, metal bat, baseball, radar"
    assert parse_line(line)["device"] == "radar"


def test_what_is_not_stated_is_said() -> None:
    exit_speed = CATALOGUE.measures[handles.EXIT_SPEED]
    line = line_of(exit_speed, {"delivery": "tee", "bat": "bamboo", "surface": "turf"})
    assert line == "delivery=tee; bat=not stated; ball=not stated; device=not stated"
    assert line_label(exit_speed, line) == "tee (bat, ball, device not stated)"
    assert line_label(exit_speed, line_of(exit_speed, {})) == "delivery, bat, ball, device not stated"


def test_a_measure_without_must_match_conditions_has_one_line() -> None:
    mass = CATALOGUE.measures[handles.BODY_MASS]
    assert [c.key for c in mass.conditions] == ["state"]
    assert line_of(mass, {"state": "fasted"}) == ""
    assert line_label(mass, "") == ""


def test_words_for_a_condition() -> None:
    timing = CATALOGUE.measures[handles.SPRINT_60YD].conditions[0]
    assert [find_value(timing, text) for text in ("Hand", "stop-watch", "", "sundial")] == [
        "hand", "hand", "not stated", None,
    ]  # fmt: skip


def test_age_counts_years_of_365_and_a_quarter_days() -> None:
    # 2010-01-01 to 2024-07-15 is 5309 days; the growth references give 14.535249828884325 for it.
    assert age_years(date(2010, 1, 1), date(2024, 7, 15)) == pytest.approx(14.535249828884325, abs=1e-12)


@pytest.mark.parametrize(
    ("key", "unit", "decimals"),
    [("exit_speed", "m/s", 2), ("exit_speed", "mph", 1), ("body_mass", "lb", 1), ("standing_height", "in", 1),
     ("trap_bar_deadlift", "lb", 0), ("medicine_ball_throw", "ft", 1), ("sprint_10yd", "s", 2)],
)  # fmt: skip
def test_decimals_in_the_unit_shown(key: str, unit: str, decimals: int) -> None:
    assert decimals_in(CATALOGUE.measures[key], unit) == decimals


def test_the_page_of_measures_is_up_to_date() -> None:
    page = Path(__file__).parents[2] / "docs" / "measures.md"
    assert page.read_text(encoding="utf-8") == catalogue_markdown(CATALOGUE), (
        "run: python -m latewood.pipeline.catalogue > docs/measures.md"
    )


@EACH
def test_the_page_shows_every_measure(measure: Measure) -> None:
    page = catalogue_markdown(CATALOGUE)
    assert f"### {measure.label}\n" in page
    assert measure.protocol in page
    assert f"`{measure.key}`" in page
