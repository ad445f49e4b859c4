"""Order and timing of movement: counts, missing segments, doubts and changes are said as they are."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from dashboard.charts.movement import movement_sheet
from dashboard.rows import MovementDoubt, MovementReading
from dashboard.views.lookup import Lookup, build_lookup
from dashboard.views.movement import build_movement
from tests.dashboard.made import ERROR

ON, LATER = date(2032, 6, 2), date(2032, 7, 4)
LINE = "action=throw; sensor_class=inertial"
TYPICAL = {"pelvis": (655, -118), "torso": (1104, -82), "upper_arm": (1500, -52)}


def day(
    on: date = ON, trials: int = 8, late: int = 5, left_out: tuple[str, ...] = ()
) -> list[MovementReading]:
    found = []
    for trial in range(1, trials + 1):
        for segment, (speed, ms) in TYPICAL.items():
            moved = ms + (45 if trial == late and segment == "pelvis" else 0)
            for kind, value in (("speed", speed), ("time", moved)):
                if f"{segment}_peak_{kind}" not in left_out:
                    found.append(
                        MovementReading(
                            measured_on=on, action="throw", event="release", trial=trial,
                            measure=f"{segment}_peak_{kind}", line=LINE, value=float(value),
                        )
                    )  # fmt: skip
    return found


def lookup(limit: float = 93.0) -> Lookup:
    errors = [
        replace(ERROR, measure=f"{s}_peak_speed", line=LINE, typical_error=30.0, minimal_change_one=limit)
        for s in TYPICAL
    ]
    return build_lookup("us", athletes=(), camps=(), stays=(), measures=(), lines=(), errors=errors)


def test_order_is_counted_and_the_odd_trial_named() -> None:
    (one,) = build_movement(day(), (), lookup())
    assert one.order == "Order pelvis → torso → upper arm in 7 of 8."
    assert "Torso peaks before pelvis in trial 5." in one.remarks
    assert "Not measured: forearm and hand." in one.remarks
    assert [row.name for row in one.rows if row.words == "not measured"] == ["Forearm", "Hand"]


def test_marks_stand_in_order_of_time_and_the_ratio_is_to_the_segment_before() -> None:
    (one,) = build_movement(day(), (), lookup())
    pelvis, torso, arm = one.rows[:3]
    assert pelvis.at < torso.at < arm.at < one.event_at
    # 1104/655 = 1.685; its half-width 1.96 · 1.685 · √((30/1104)² + (30/655)²) = 0.176
    assert "1.69 (1.51 to 1.86) × pelvis" in torso.words
    assert "×" not in pelvis.words


def test_there_is_no_verdict_on_order_over_a_reversed_sensor() -> None:
    doubt = MovementDoubt(
        measured_on=ON, measure="torso_peak_speed", rule="reversed_sensor", reason="the peak is negative", n=8
    )
    (one,) = build_movement(day(left_out=("torso_peak_speed",)), (doubt,), lookup())
    assert one.order == "No verdict on order: torso reversed, waiting for a decision."
    assert one.rows[1].at is None
    assert "8 trials held: the peak is negative" in one.rows[1].small
    assert "×" not in one.rows[2].words
    everything = replace(doubt, rule="all_reversed")
    assert "Which side" in build_movement(day(), (everything,), lookup())[0].order


def test_a_change_is_judged_by_the_measurement_error() -> None:
    later = [
        replace(r, measured_on=LATER, value=r.value + (100 if r.measure.endswith("speed") else 0))
        for r in day()
    ]
    assert "no clear change" in build_movement([*day(), *later], (), lookup(120))[0].rows[0].small
    assert (
        "more than measurement error (93)"
        in build_movement([*day(), *later], (), lookup(93))[0].rows[0].small
    )
    assert build_movement([*day(), *later], (), lookup())[1].rows[0].small == ""


def test_trials_without_a_segment_are_left_out_of_the_count() -> None:
    rows = [r for r in day() if not (r.trial == 2 and r.measure == "torso_peak_time")]
    (one,) = build_movement(rows, (), lookup())
    assert one.order.endswith("in 6 of 7.")
    assert "1 of 8 trials lack a segment and are not counted." in one.remarks


def test_peaks_close_together_are_remarked() -> None:
    rows = [
        replace(r, value=-85.0) if r.measure == "pelvis_peak_time" and r.trial == 1 else r
        for r in day(late=0)
    ]
    assert "Pelvis and torso peak within 5 ms in 1 of 8." in build_movement(rows, (), lookup())[0].remarks


def test_the_drawing_says_in_words_what_it_shows() -> None:
    html = movement_sheet(build_movement(day(), (), lookup()))
    assert 'aria-label="Torso: −82 ms · 1,104 deg/s' in html
    assert movement_sheet(()) == ""
