"""The table of angles: order, share of height, what a change is held against, and studies named as no target."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from latewood.dashboard.reads.rows import MeasureRow, SessionValue
from latewood.dashboard.views.athlete.angles import build_angles
from latewood.dashboard.views.lookup import Lookup, keyed, keyed_by_line
from tests.dashboard.made import ERROR, EXIT, HEIGHT, TREND, VALUE

LINE = "action=throw; sensor_class=optical"
KNEE = replace(
    EXIT, measure="front_knee_landing", label="Front-knee bend at landing", family="movement", unit="deg",
    better="neither", resolution=1, decimals=0, position=21, published="23 pitchers: mean 43 deg (A 1999)\nB 2001",
)  # fmt: skip
STRIDE = replace(KNEE, measure="stride_length", label="Stride length", unit="cm", position=22, published="")
PEAK = replace(KNEE, measure="pelvis_peak_speed", label="Pelvis peak speed", unit="deg/s", position=23)
FIRST, LATER = date(2032, 6, 5), date(2032, 7, 20)


def at(measure: MeasureRow, on: date, value: float) -> SessionValue:
    return replace(VALUE, measure=measure.measure, line=LINE, held_on=on, value=value, n_trials=8)


def lookup(limit: float | None) -> Lookup:
    error = replace(ERROR, measure=KNEE.measure, line=LINE, minimal_change_one=limit)
    return Lookup(
        system="metric", athletes={}, camps={}, stays={}, measures=keyed([HEIGHT, STRIDE, KNEE, PEAK, EXIT], "measure"),
        lines={}, errors=keyed_by_line([error] if limit else []),
    )  # fmt: skip


DAYS = [at(KNEE, LATER, 41.2), at(KNEE, FIRST, 50.0)]


def changed(limit: float | None, trends=()) -> str:
    return build_angles(DAYS, trends, lookup(limit)).rows[0]["Change"]


def test_rows_stand_in_the_order_of_the_catalogue_and_speeds_are_not_among_them() -> None:
    others = [at(PEAK, LATER, 640), at(STRIDE, LATER, 150.0), at(EXIT, LATER, 35.0)]
    sheet = build_angles([*others, *DAYS], (), lookup(12.0))
    assert [row["What"].split(" (")[0] for row in sheet.rows] == [
        "Front-knee bend at landing",
        "Stride length",
    ]
    assert sheet.rows[0]["Latest day"] == "41\xa0deg, 20 Jul 2032, middle of 8 trials"
    assert sheet.rows[0]["First day"] == "50\xa0deg, 5 Jun 2032"
    assert (sheet.rows[1]["First day"], sheet.rows[1]["Change"]) == ("this is it", "one day only")
    assert sheet.published == (
        "Front-knee bend at landing: 23 pitchers: mean 43 deg (A 1999).", "Front-knee bend at landing: B 2001.",
    )  # fmt: skip


def test_a_change_is_held_against_the_measurement_error_of_its_line() -> None:
    assert changed(12.0) == "−9\xa0deg: no clear change, measurement error alone reaches 12\xa0deg"
    assert changed(8.0) == "−9\xa0deg: more than measurement error (8\xa0deg)"
    assert changed(None) == "−9\xa0deg; measurement error not known"


def test_the_verdict_of_the_stay_comes_first_and_only_that_of_its_own_line() -> None:
    own = replace(
        TREND,
        measure=KNEE.measure,
        line=LINE,
        change=-9.0,
        low=-14.0,
        high=-4.0,
        verdict="clear fall",
        z=-3.5,
    )
    assert changed(12.0, [own]) == "Clear fall: −9\xa0deg (−14 to −4)"
    assert changed(12.0, [replace(own, line="action=swing")]).startswith("−9\xa0deg: no clear change")


def test_a_stride_is_set_against_a_standing_height_measured_near_it() -> None:
    stride = at(STRIDE, LATER, 150.0)
    near, old = at(HEIGHT, FIRST, 180.0), at(HEIGHT, date(2031, 6, 1), 170.0)
    assert (
        "150\xa0cm (83 % of standing height),"
        in build_angles([stride, near, old], (), lookup(1)).rows[0]["Latest day"]
    )
    assert "height" not in build_angles([stride, old], (), lookup(1)).rows[0]["Latest day"]
