"""Two days over each other: what is compared, what is left out and why, and that nothing rests on a colour."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from latewood.dashboard.charts.spec import specs
from latewood.dashboard.charts.timing import draw_overlay
from latewood.dashboard.reads.trace_rows import TraceRow
from latewood.dashboard.theme import DARK, LIGHT
from latewood.dashboard.views.athlete.overlay import (
    AxisScale,
    DayTraces,
    OverlaySheet,
    TraceDay,
    build_overlay,
    comparable_days,
    days_of,
    not_comparable,
    scales_of,
)
from latewood.pipeline.stats.movement.trace_curves import drawn_trial
from latewood.pipeline.stats.movement.trace_values import TraceSettings
from tests.calibration.study_traces import bell
from tests.dashboard.made import ERROR, lookup

FIRST, LAST = date(2032, 6, 20), date(2032, 7, 18)
LINE = "action=throw; sensor_class=inertial"
DAYS = [TraceDay(on=on, action="throw", line=LINE, event="release") for on in (FIRST, LAST)]
PEAKS = {"pelvis": (0.482, 50, 655), "torso": (0.518, 45, 1104), "hand": (0.585, 25, 2100)}
RATES = (250, 500, 1000, 360, 200)


def row(day: TraceDay, measure: str, trial: int, **more) -> TraceRow:
    base = {
        "import_id": f"feed{day.on}", "row_no": 1000 * trial, "file_name": "a.csv", "measured_on": day.on,
        "trial": trial, "trial_text": str(trial), "measure": measure, "state": "measured", "speed": 900.0,
        "ms_from_event": -82.0, "speed_error": 5.0, "ms_error": 1.0, "opposite": 0.0, "n_lost": 0, "rate_hz": 250.0,
        "cutoff_hz": 25.0, "cutoff_source": "ours", "reason": "", "remarks": "", "held_rule": None,
        "fix_known": None, "taken": 900.0, "action": day.action, "line": day.line,
    }  # fmt: skip
    return TraceRow(**{**base, **more})


def traces(
    day: TraceDay, n: int = 5, sooner: float = 0.0, turned: str = "", two_events: bool = True
) -> DayTraces:
    """Trials of unlike rate and length; every peak `sooner` s before its place, each trial off by a few ms."""
    rows, trials = [], {}
    for trial in range(1, n + 1):
        times = np.arange(0, 0.75 + 0.03 * trial, 1 / RATES[trial - 1])
        off = 0.002 * (trial - 3) - sooner
        channels = {
            f"{s}_peak_speed": (-1 if s == turned else 1)
            * bell(times, at + off * (s != "hand"), width, height)
            for s, (at, width, height) in PEAKS.items()
        }
        marks = {"foot plant": 0.45, "release": 0.6} if two_events else {"release": 0.6}
        trials[f"feed{day.on}", 1000 * trial] = drawn_trial(times, channels, 0.6, TraceSettings(), marks)
        rows += [row(day, measure, trial) for measure in channels]
    return DayTraces(day=day, rows=rows, trials=trials)


def built(*days: DayTraces, scale: AxisScale | None = None, wanted: str = "") -> OverlaySheet:
    return build_overlay(days, scale or AxisScale(), wanted, lookup())


def cells(sheet: OverlaySheet, name: str) -> dict[str, str]:
    return next(r for r in map(dict, sheet.table) if r[""] == name)


def test_every_segment_of_both_days_is_on_one_axis_with_its_peak() -> None:
    sheet = built(traces(DAYS[0]), traces(DAYS[1], sooner=0.02))
    assert [(c.segment, c.latest) for c in sheet.curves] == [
        (segment, latest) for latest in (False, True) for segment in ("Pelvis", "Torso", "Hand")
    ]
    assert len({c.at for c in sheet.curves}) == 1
    places = [round(c.peak_at or 0) for c in sheet.curves]
    assert places == [-118, -82, -15, -138, -102, -15]
    for one in sheet.curves:  # the middle curve has its top where the peaks are
        assert one.at[int(np.nanargmax(np.array(one.middle, dtype=float)))] == pytest.approx(
            one.peak_at, abs=5
        )
    assert sheet.order[0] == "Peaks of 20 Jun 2032: pelvis → torso → hand (without upper arm and forearm)."


def test_peaks_and_gaps_have_their_errors_and_the_change_its_limit() -> None:
    sheet = built(traces(DAYS[0]), traces(DAYS[1], sooner=0.02))
    assert cells(sheet, "Peak, pelvis")["20 Jun 2032"] == "−118 ± 5 ms, 5 trials"
    assert cells(sheet, "Gap, pelvis to torso")["18 Jul 2032"] == "36 ± 0 ms, 5 trials"
    assert cells(sheet, "Gap, torso to hand")["Change"] == "+20 ms: clear, error alone reaches 7"
    measured = lookup()
    error = replace(ERROR, measure="pelvis_peak_time", line=f"{LINE}; event=release", typical_error=9.0)
    held = replace(measured, errors={**measured.errors, ("pelvis_peak_time", error.line): error})
    careful = build_overlay([traces(DAYS[0]), traces(DAYS[1], sooner=0.02)], AxisScale(), "", held)
    assert cells(careful, "Peak, pelvis")["Change"] == "−20 ms: no clear change, error alone reaches 25"


def test_a_change_that_rounds_to_nothing_has_no_sign() -> None:
    sheet = built(traces(DAYS[0]), traces(DAYS[1], sooner=0.0003))
    assert cells(sheet, "Peak, pelvis")["Change"].startswith("0 ms: no clear change")


def test_fewer_than_three_trials_are_drawn_singly_and_the_page_says_so() -> None:
    sheet = built(traces(DAYS[1], n=2))
    assert [c.trial for c in sheet.curves] == [1, 2] * 3
    assert all(v is None for c in sheet.curves for v in c.low)
    assert any("fewer than 3 trials of pelvis, torso and hand" in note for note in sheet.notes)
    assert cells(sheet, "Peak, pelvis")["18 Jul 2032"] == "−121 ms, 2 trials"


def test_a_sensor_that_may_sit_the_other_way_is_left_out_with_its_reason() -> None:
    day = traces(DAYS[1], turned="torso")
    rows = [
        replace(r, held_rule="reversed_sensor", taken=None) if "torso" in r.measure else r for r in day.rows
    ]
    sheet = built(replace(day, rows=rows))
    assert "Torso" not in {c.segment for c in sheet.curves}
    assert any("torso 5 trials (the sensor may sit the other way round" in note for note in sheet.notes)
    taken = [replace(r, speed=-1104.0, taken=1104.0) if "torso" in r.measure else r for r in day.rows]
    corrected = built(replace(day, rows=taken), wanted="torso").curves[0]
    assert max(v for v in corrected.middle if v is not None) == pytest.approx(1104, rel=0.02)


def test_time_is_normalised_between_two_marked_events_and_refused_without() -> None:
    both = scales_of([traces(DAYS[0]), traces(DAYS[1])])
    assert [s.name for s in both] == ["ms from the event", "% from foot plant to release"]
    sheet = built(traces(DAYS[0]), traces(DAYS[1]), scale=both[1])
    pelvis = next(c for c in sheet.curves if c.segment == "Pelvis")
    assert pelvis.peak_at == pytest.approx(100 * 0.032 / 0.15, abs=0.5)
    assert sheet.marks == ((0.0, "foot plant"), (100.0, "release"))
    assert [s.name for s in scales_of([traces(DAYS[0], two_events=False), traces(DAYS[1])])] == [
        "ms from the event"
    ]


def test_only_days_measured_alike_are_overlaid() -> None:
    other = replace(DAYS[0], line="action=throw; sensor_class=optical")
    days = [DAYS[1], DAYS[0], replace(other, on=date(2032, 7, 1))]
    assert comparable_days(days[0], days) == (DAYS[0],)
    assert "1 Jul 2032" in not_comparable(days[0], days)
    rows = [row(DAYS[0], "torso_peak_speed", 1), row(DAYS[1], "torso_peak_speed", 1, action="", line="")]
    assert days_of(rows, {(FIRST, "throw"): "release"}) == (DAYS[0],)


@pytest.mark.parametrize("colours", [LIGHT, DARK])
def test_segments_differ_by_pattern_and_letter_and_no_colour_is_theirs(colours) -> None:
    sheet = built(traces(DAYS[0]), traces(DAYS[1], sooner=0.02))
    draw_overlay(sheet, colours).to_dict()  # held against Vega-Lite's schema
    (text,) = specs(draw_overlay, sheet, colours)
    lines = [one["mark"] for one in json.loads(text)["layer"] if one["mark"]["type"] == "line"]
    assert len({tuple(m["strokeDash"]) for m in lines}) == 3
    assert {m["color"] for m in lines} == {colours.ink, colours.slate}
    assert {m["strokeWidth"] for m in lines} == {1.3, 2.4}
