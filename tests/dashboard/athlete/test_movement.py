"""Order and timing of movement: counts, missing segments, doubts and changes are said as they are."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandas as pd

from latewood.dashboard.charts.movement import movement_sheet
from latewood.dashboard.reads.rows import MovementDoubt, MovementReading
from latewood.dashboard.views.athlete.movement import MovementDay, build_movement
from latewood.dashboard.views.lookup import Lookup, keyed_by_line
from latewood.pipeline.stats.change.reliability_formulas import minimal_change
from latewood.pipeline.stats.movement.peak_order import peak_orders
from latewood.pipeline.stats.movement.results import PeakOrder
from tests.dashboard.made import ERROR

ON, LATER = date(2032, 6, 2), date(2032, 7, 4)
SEPARATION = "hip_shoulder_separation"
LINE = "action=throw; sensor_class=inertial"
TYPICAL = {"pelvis": (655, -118), "torso": (1104, -82), "upper_arm": (1500, -52)}


def day(
    on: date = ON, trials: int = 8, late: int = 5, left_out: tuple[str, ...] = ()
) -> list[MovementReading]:
    result = []
    for trial in range(1, trials + 1):
        for segment, (speed, ms) in TYPICAL.items():
            moved = ms + (45 if trial == late and segment == "pelvis" else 0)
            for kind, value in (("speed", speed), ("time", moved)):
                if f"{segment}_peak_{kind}" not in left_out:
                    result.append(
                        MovementReading(
                            measured_on=on, action="throw", event="release", trial=trial,
                            measure=f"{segment}_peak_{kind}", line=LINE, value=float(value),
                        )
                    )  # fmt: skip
    return result


def lookup(limit: float = 93.0) -> Lookup:
    errors = [
        replace(ERROR, measure=f"{s}_peak_speed", line=LINE, typical_error=30.0, minimal_change_one=limit)
        for s in TYPICAL
    ]
    errors += [
        replace(ERROR, measure=f"{s}_peak_time", line=LINE, typical_error=3.0, minimal_change_one=8.3)
        for s in TYPICAL
    ]
    errors.append(
        replace(
            ERROR, measure=SEPARATION, line=LINE, typical_error=4.0, minimal_change_one=minimal_change(4.0)
        )
    )
    return Lookup(
        system="us", athletes={}, camps={}, stays={}, measures={}, lines={}, errors=keyed_by_line(errors)
    )


def orders(rows: list[MovementReading], doubts: tuple[MovementDoubt, ...]) -> list[PeakOrder]:
    """What the build would store for these readings."""
    times = pd.DataFrame(
        [
            (
                "T1",
                r.measured_on,
                r.action,
                r.line,
                r.trial,
                r.measure.removesuffix("_peak_time"),
                r.value,
                None,
            )
            for r in rows
            if r.measure.endswith("_peak_time")
        ],
        columns=["athlete_id", "measured_on", "action", "line", "trial", "segment", "ms", "rate_hz"],
    )
    waiting = pd.DataFrame(
        [("T1", d.measured_on, d.measure.removesuffix("_peak_speed")) for d in doubts],
        columns=["athlete_id", "measured_on", "segment"],
    )
    return list(peak_orders(times, waiting).orders)


def movement(
    rows: list[MovementReading], doubts: tuple[MovementDoubt, ...] = (), look: Lookup | None = None
) -> tuple[MovementDay, ...]:
    return build_movement(rows, doubts, orders(rows, doubts), look or lookup())


def test_order_is_counted_and_the_odd_trial_named() -> None:
    (one,) = movement(day())
    assert one.order == (
        "Order pelvis → torso → upper arm in 7 of 8 (from these trials, 53 % to 98 % of the time); out of order in 1."
    )
    assert "Torso peaks before pelvis in trial 5." in one.remarks
    assert "Not measured: forearm and hand." in one.remarks
    assert [row.name for row in one.rows if row.words == "not measured"] == ["Forearm", "Hand"]


def test_marks_stand_in_order_of_time_and_the_ratio_is_to_the_segment_before() -> None:
    (one,) = movement(day())
    pelvis, torso, arm = one.rows[:3]
    assert pelvis.at < torso.at < arm.at < one.event_at
    # 1104/655 = 1.685; its half-width 1.96 · 1.685 · √((30/1104)² + (30/655)²) = 0.176
    assert "1.69 (1.51 to 1.86) × pelvis" in torso.words
    assert "×" not in pelvis.words


def test_there_is_no_verdict_on_order_over_a_reversed_sensor() -> None:
    doubt = MovementDoubt(
        measured_on=ON, measure="torso_peak_speed", rule="reversed_sensor", reason="the peak is negative", n=8
    )
    (one,) = movement(day(left_out=("torso_peak_speed",)), (doubt,))
    assert one.order == "No verdict on order: torso reversed, waiting for a decision."
    assert one.rows[1].at is None
    assert "8 trials held: the peak is negative" in one.rows[1].small
    assert "×" not in one.rows[2].words
    everything = replace(doubt, rule="all_reversed")
    assert "Which side" in movement(day(), (everything,))[0].order


def test_a_change_is_judged_by_the_measurement_error() -> None:
    later = [
        replace(r, measured_on=LATER, value=r.value + (100 if r.measure.endswith("speed") else 0))
        for r in day()
    ]
    assert "no clear change" in movement([*day(), *later], look=lookup(120))[0].rows[0].small
    assert "more than measurement error (93)" in movement([*day(), *later], look=lookup(93))[0].rows[0].small
    assert movement([*day(), *later])[1].rows[0].small == ""


def test_changes_of_times_are_judged_too_and_only_against_what_was_taken_alike() -> None:
    def later(moved: float, line: str = LINE) -> list[MovementReading]:
        return [
            replace(
                r,
                measured_on=LATER,
                line=line,
                value=r.value + moved * r.measure.endswith("pelvis_peak_time"),
            )
            for r in day()
        ]

    assert (
        "−12 ms since the first day: more than measurement error (8)"
        in movement([*day(), *later(-12)])[0].rows[0].small
    )
    assert "+5 ms since the first day: no clear change" in movement([*day(), *later(5)])[0].rows[0].small
    other = movement([*day(), *later(-12, LINE.replace("inertial", "optical"))])[0]
    assert "since the first day" not in other.rows[0].small


def test_each_reason_for_a_held_trial_is_told() -> None:
    lost = MovementDoubt(measured_on=ON, measure="torso_peak_speed", rule="channel_lost", reason="flat", n=1)
    both = (lost, replace(lost, reason="a drop-out lies at the peak", n=2))
    small = movement(day(), both)[0].rows[1].small.splitlines()
    assert small == ["1 trial held: flat", "2 trials held: a drop-out lies at the peak"]
    assert movement(day(), ())[0].order.startswith("Order pelvis")


def test_separation_of_38_and_44_degrees_is_no_clear_change() -> None:
    def angles(on: date, middle: float) -> list[MovementReading]:
        return [
            replace(day()[0], measured_on=on, measure=SEPARATION, trial=k, value=middle + k - 4)
            for k in range(1, 8)
        ]

    latest, first = movement([*day(), *angles(ON, 38), *day(LATER), *angles(LATER, 44)])
    assert first.separation == "Hip-shoulder separation 38 deg (middle of 7 trials)."
    assert "44 deg" in latest.separation
    assert (
        "+6 deg since the first day: no clear change, measurement error alone reaches 11" in latest.separation
    )
    assert "chance that it rose 86 %" in latest.separation  # 6 / (4 · √2) SD above none
    assert latest.separation in movement_sheet([latest]).replace("&#x27;", "'")


def test_trials_without_a_segment_are_left_out_of_the_count() -> None:
    rows = [r for r in day() if not (r.trial == 2 and r.measure == "torso_peak_time")]
    (one,) = movement(rows)
    assert one.order.startswith("Order pelvis → torso → upper arm in 6 of 7 (")
    assert "1 of 8 trials lack a segment and are not counted." in one.remarks


def test_peaks_close_together_are_remarked() -> None:
    rows = [
        replace(r, value=-85.0) if r.measure == "pelvis_peak_time" and r.trial == 1 else r
        for r in day(late=0)
    ]
    assert "Pelvis and torso peak together (within 8 ms) in 1 of 8." in movement(rows)[0].remarks


def test_the_drawing_says_in_words_what_it_shows() -> None:
    html = movement_sheet(movement(day()))
    assert 'aria-label="Torso: −82 ms · 1,104 deg/s' in html
    assert movement_sheet(()) == ""
