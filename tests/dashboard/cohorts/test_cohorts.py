from dataclasses import replace

import pytest
from made import CAMP, GAIN, LATER, LEFT, REFUSED_GAIN, STAY, TEE, TREND, UNCLEAR, VALUE, lookup

from latewood.dashboard.charts.forest import draw_forest
from latewood.dashboard.charts.gains import gain_block, gain_reach
from latewood.dashboard.charts.slopes import draw_slopes
from latewood.dashboard.text.wording import THIN
from latewood.dashboard.theme import LIGHT
from latewood.dashboard.views.cohorts.behind import build_behind, build_slopes
from latewood.dashboard.views.cohorts.cohorts import (
    KINDS,
    behind_links,
    build_blocks,
    build_camp_heads,
    build_forest,
    build_gain_row,
)

ALL = ["skill_output", "speed", "strength", "build"]


def test_leavers_are_counted_in_the_head() -> None:
    head = build_camp_heads([CAMP], [STAY, LEFT])[0]
    assert head.text == "1 Jun to 15 Aug 2032; 2 athletes enrolled, 1 left early"


def test_the_plain_difference_stands_beside_never_instead() -> None:
    row = build_gain_row(GAIN, lookup())
    assert row.amount.startswith("+4.3")
    assert row.raw.startswith("+5.0")
    assert "(+3.2 to +6.8)" in row.raw
    assert row.counts == "36 enrolled, 34 measured, 31 with exit test"


def test_gains_are_drawn_in_the_tests_own_error() -> None:
    row = build_gain_row(GAIN, lookup())
    assert row.position == pytest.approx(1.2 / 0.5)
    assert (row.low, row.high) == (pytest.approx(1.6), pytest.approx(3.2))


def test_a_faster_time_is_drawn_to_the_right() -> None:
    row = build_gain_row(
        replace(GAIN, measure="sprint_60yd", line="", gain=-0.06, low=-0.09, high=-0.03), lookup()
    )
    assert row.position is not None
    assert row.position > 0


def test_times_are_faster_or_slower_and_never_signed() -> None:
    sprint = replace(
        GAIN,
        measure="sprint_60yd",
        line="",
        gain=-0.06,
        low=-0.09,
        high=0.03,
        raw_gain=-0.1,
        raw_low=-0.15,
        raw_high=-0.05,
        shrunk_gain=0.0,
    )
    row = build_gain_row(sprint, lookup())
    assert (row.amount, row.interval) == (f"0.06{THIN}s faster", "0.09 faster to 0.03 slower")
    assert (row.raw, row.shrunk) == (f"0.10{THIN}s faster (0.05 to 0.15 faster)", "no change")
    both = build_gain_row(replace(sprint, high=-0.03), lookup())
    assert both.interval == "0.03 to 0.09 faster"
    notes = [
        point.note
        for forest in [build_forest([sprint], "sprint_60yd", "", lookup())]
        for point in forest.points
    ]
    assert notes[0] == f"0.06{THIN}s faster (0.09 faster to 0.03 slower)"


def test_a_small_group_is_refused_in_words() -> None:
    block = build_blocks([REFUSED_GAIN], ["K"], ALL, lookup())[0]
    drawn = gain_block(block, gain_reach([block]))
    assert "5 athletes measured, 8 are needed" in drawn
    assert "lw-now" not in drawn
    assert "+5.0" not in drawn


def test_only_picked_camps_and_kinds_are_shown() -> None:
    assert build_blocks([GAIN], ["other"], ALL, lookup()) == ()
    assert build_blocks([GAIN], ["K"], ["speed"], lookup()) == ()


def test_camps_that_cannot_be_told_apart_are_not_ranked() -> None:
    gains = [replace(GAIN, camps_differ=False), replace(GAIN, camp_id="L", camps_differ=False)]
    assert "do not rank" in build_blocks(gains, ["K", "L"], ALL, lookup())[0].note


def test_the_forest_shows_own_shrunk_and_plain() -> None:
    forest = build_forest([GAIN, replace(REFUSED_GAIN, camp_id="L")], "exit_speed", TEE, lookup())
    assert [point.kind for point in forest.points] == list(KINDS)
    assert forest.refused == ("L: 5 athletes measured, 8 are needed",)
    spec = draw_forest(forest, LIGHT).to_dict()
    assert spec["title"]["text"] == "Exit speed (tee, metal bat): gain per camp"
    assert spec["layer"][1]["encoding"]["x"]["title"] == "change from intake (km/h)"


def test_the_athletes_behind_a_number_state_what_chance_does() -> None:
    view = build_behind([UNCLEAR, replace(TREND, athlete_id="T3", stay_id="T3@K")], [VALUE], lookup())
    assert [row.name for row in view.rows] == ["Cleo Marshreed", "Arlo Fernmoss"]
    assert view.rows[0].left_early
    assert view.summary == "2 athletes: 1 clear, 1 not clear yet."
    assert "fewer than 1 of these 2 changes" in view.by_chance


def test_leavers_end_with_a_cross_on_the_slope_sheet() -> None:
    gone = [
        replace(VALUE, athlete_id="T3", stay_id="T3@K"),
        replace(VALUE, athlete_id="T3", stay_id="T3@K", weeks=2.0),
    ]
    gone[1] = replace(gone[1], held_on=LEFT.left_on or VALUE.held_on)
    sheet = build_slopes([VALUE, LATER, *gone], GAIN, lookup())
    assert sheet is not None
    assert [point.ends_early for point in sheet.points] == [False, False, False, True]
    assert sheet.middle[1][1] - sheet.middle[0][1] == pytest.approx(1.2 * 3.6)
    assert "1 who left early end with a cross" in sheet.alt
    assert draw_slopes(sheet, LIGHT).to_dict()["layer"][2]["transform"] == [{"filter": "datum.early"}]


def test_one_session_draws_no_slopes() -> None:
    assert build_slopes([VALUE], GAIN, lookup()) is None


def test_each_camp_of_a_block_has_its_own_way_to_its_athletes() -> None:
    (block,) = build_blocks([GAIN, replace(GAIN, camp_id="L")], ["K", "L"], ["skill_output"], lookup())
    links = behind_links(block)
    assert [camp for camp, _ in links] == ["K", "L"]
    assert all(label.startswith("See athletes: ") for _, label in links)
    (alone,) = build_blocks([GAIN], ["K"], ["skill_output"], lookup())
    assert behind_links(alone) == (("K", "See athletes"),)


def test_a_first_day_that_nobody_can_judge_is_said_with_the_gain_as_measured() -> None:
    once = replace(GAIN, as_measured=1.5, as_measured_low=1.0, as_measured_high=2.0)
    told = gain_block(build_blocks([once], ["K"], ALL, lookup())[0], 4.0)
    assert f"only one test at the start: +5.4{THIN}km/h (+3.6 to +7.2) if that was a normal day" in told
    assert "at the start" not in gain_block(build_blocks([GAIN], ["K"], ALL, lookup())[0], 4.0)
