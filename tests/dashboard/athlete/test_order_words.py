"""Order between days and its repeatability in words; the days on one time scale."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from latewood.dashboard.charts.timing import draw_timing
from latewood.dashboard.reads.rows import MovementDoubt
from latewood.dashboard.theme import LIGHT
from latewood.dashboard.views.athlete.order import build_order_sheet
from latewood.dashboard.views.athlete.timing import build_timing
from latewood.pipeline.stats.movement.results import OrderChange, OrderRepeatability
from tests.dashboard.athlete.test_movement import LATER, ON, day, lookup, orders

CHANGE = OrderChange(
    athlete_id="T1", action="throw", line="x", part="pelvis>torso", is_whole=False, since="first", from_on=ON,
    to_on=LATER, n_from=8, n_to=8, share_from=0.25, share_to=0.875, difference=0.625, low=0.136, high=0.832,
    design_effect=1.0, verdict="more often in order", reason="", level=0.95, method="",
)  # fmt: skip
REPEAT = OrderRepeatability(
    action="throw", line="action=throw; sensor_class=inertial", part="pelvis>torso", is_whole=False, n_athletes=33,
    n_sessions=92, n_trials=736, within_day=0.28, within_low=-0.004, within_high=0.37, n_returning=31,
    across_days=0.26, across_low=0.15, across_high=0.34, verdict="given", reason="", level=0.95, method="",
)  # fmt: skip


def test_a_change_is_told_with_counts_interval_and_verdict() -> None:
    (row,) = build_order_sheet([CHANGE], [], []).changes
    assert row["Order"] == "pelvis → torso"
    assert (row["Then"], row["Now"]) == ("2 of 8", "7 of 8")
    assert row["Change in the share of trials in order"] == "+62 points (+14 to +83): more often in order"


def test_a_refused_change_says_why_and_all_comes_before_pairs() -> None:
    full = replace(
        CHANGE,
        part="pelvis>torso>hand",
        is_whole=True,
        verdict="refused",
        reason="not the same",
        share_from=None,
    )
    first, second = build_order_sheet([CHANGE, full], [], []).changes
    assert first["Order"] == "All: pelvis → torso → hand"
    assert first["Then"] == "–"
    assert first["Change in the share of trials in order"] == "Not compared: not the same."
    assert second["Order"] == "pelvis → torso"


def test_repeatability_is_told_for_what_the_latest_day_shows() -> None:
    there = orders(day(), ())
    other = replace(REPEAT, part="torso>hand")
    words = build_order_sheet([], [REPEAT, other], there).repeats
    assert words == (
        "pelvis → torso: trials of one day agree 0.28 (0.00 to 0.37), days of one athlete 0.26 (0.15 to 0.34) "
        "(33 athletes, 736 trials).",
    )
    refused = replace(REPEAT, verdict="refused", reason="fewer than 8 athletes")
    assert build_order_sheet([], [refused], there).repeats == (
        "How far it repeats is not known (fewer than 8 athletes): pelvis → torso.",
    )


def test_days_stand_on_one_scale_with_their_error() -> None:
    rows = [*day(), *day(LATER, left_out=("upper_arm_peak_time",))]
    (view,) = build_timing(rows, (), lookup())
    assert view.days == ("4 Jul 2032", "2 Jun 2032")
    pelvis = next(m for m in view.marks if m.segment == "Pelvis" and m.day == "2 Jun 2032")
    assert (pelvis.letter, pelvis.at, pelvis.first, pelvis.last) == ("P", -118.0, -118.0, -73.0)
    assert (pelvis.error_low, pelvis.error_high) == (-118 - 1.96 * 3, -118 + 1.96 * 3)
    assert {n.day: n.text for n in view.notes} == {
        "4 Jul 2032": "upper arm, forearm, hand not measured",
        "2 Jun 2032": "forearm, hand not measured",
    }
    drawn = draw_timing(view, LIGHT).to_dict()
    assert "Torso −82 ms" in view.alt.replace("-", "−")
    assert len(drawn["layer"]) == 5


def test_a_reversed_sensor_is_left_out_and_said() -> None:
    doubt = MovementDoubt(
        measured_on=LATER, measure="torso_peak_speed", rule="reversed_sensor", reason="", n=8
    )
    (view,) = build_timing([*day(), *day(LATER)], (doubt,), lookup())
    assert not [m for m in view.marks if m.segment == "Torso" and m.day == "4 Jul 2032"]
    assert "torso reversed, waits for a decision" in view.notes[0].text
    everything = [
        replace(doubt, measure=f"{s}_peak_speed", rule="all_reversed")
        for s in ("pelvis", "torso", "upper_arm", "forearm", "hand")
    ]
    (view,) = build_timing([*day(), *day(LATER)], everything, lookup())
    assert view.notes[0].text == "every channel runs backwards: side to be asked"


def test_one_day_needs_no_chart_of_days() -> None:
    assert build_timing(day(date(2032, 6, 2)), (), lookup()) == ()
