"""A trial as it is shown: curves, peak, lost stretches, and the state of each sensor in words."""

from __future__ import annotations

from datetime import date

import numpy as np

from latewood.dashboard.charts.trace import draw_trace
from latewood.dashboard.reads.trace_rows import TraceRow
from latewood.dashboard.theme import DARK, LIGHT, Palette
from latewood.dashboard.views.athlete.trace import MOST_POINTS, build_trace, first_worth_a_look, trials_of_day
from latewood.pipeline.stats.movement.trace_curves import drawn_trial
from latewood.pipeline.stats.movement.trace_values import TraceSettings
from tests.calibration.study_traces import bell

ON = date(2032, 6, 20)
T = np.arange(0, 0.9, 1 / 250)


def row(measure="torso_peak_speed", trial=1, **more) -> TraceRow:
    base = {
        "import_id": "feed", "row_no": 2, "file_name": "a.csv", "measured_on": ON, "trial": trial,
        "trial_text": str(trial), "measure": measure, "state": "measured", "speed": 900.0, "ms_from_event": -82.0,
        "speed_error": 5.0, "ms_error": 1.0, "opposite": 0.0, "n_lost": 0, "rate_hz": 250.0, "cutoff_hz": 25.0,
        "cutoff_source": "ours", "reason": "", "remarks": "", "held_rule": None, "fix_known": None, "taken": 900.0,
    }  # fmt: skip
    return TraceRow(**{**base, **more})


def sheet(values, *rows: TraceRow, event=0.6):
    channels = {"torso_peak_speed": values, "pelvis_peak_speed": bell(T, 0.45, 50, 655)}
    return build_trace(drawn_trial(T, channels, event, TraceSettings()), rows or (row(),), "release")


def test_segments_stand_from_the_ground_up_on_times_from_the_event() -> None:
    shown = sheet(bell(T, 0.518, 45, 1104))
    assert [p.name for p in shown.panels] == ["Pelvis", "Torso"]
    torso = shown.panels[1]
    assert round(torso.peak_ms or 0) == -82
    assert torso.peak_text == "1,104 deg/s"
    assert "turns as worn" in torso.words
    assert (shown.start, shown.end) == (-600.0, 200.0)
    assert shown.time_title == "ms from release"


def test_without_an_event_times_run_from_the_first_sample() -> None:
    shown = sheet(bell(T, 0.518, 45, 1104), event=None)
    assert (shown.event, shown.time_title) == ("", "ms from the first sample")
    assert round(shown.panels[1].peak_ms or 0) == 518


def test_the_state_of_a_reversed_sensor_is_said_in_words() -> None:
    turned = -bell(T, 0.518, 45, 1104) + bell(T, 0.3, 40, 212)
    text = {
        rule: sheet(turned, row(speed=-1103.0, held_rule=rule, taken=None)).panels[1].words
        for rule in ("reversed_sensor", "all_reversed")
    }
    assert "waits for a steward's decision, drawn as recorded" in text["reversed_sensor"]
    assert "ask which side the athlete uses" in text["all_reversed"]
    assert "Largest the other way 212 deg/s" in text["reversed_sensor"]
    corrected = sheet(turned, row(speed=-1103.0, taken=1103.0)).panels[1]
    assert "sign turned by a steward's decision" in corrected.words
    assert (corrected.peak_speed or 0) < 0  # the curve stays as recorded


def test_what_was_lost_is_marked_and_no_peak_is_drawn_over_it() -> None:
    values = bell(T, 0.518, 45, 1104)
    values[128:134] = np.nan
    torso = sheet(values).panels[1]
    assert (torso.peak_ms, torso.peak_text) == (None, "")
    assert torso.words.startswith("No peak is read: a drop-out of 24 ms lies at the peak")
    assert [s.text for s in torso.stretches] == ["lost, 24 ms"]
    assert any(s.raw is None for s in torso.samples)
    cut = sheet(np.minimum(bell(T, 0.518, 45, 1104), 900.0)).panels[1]
    assert any(s.text.startswith("cut off") for s in cut.stretches)


def test_an_unusable_clock_leaves_the_reason() -> None:
    broken = drawn_trial(np.zeros(50), {"torso_peak_speed": np.ones(50)}, None, TraceSettings())
    shown = build_trace(broken, (row(),), "release")
    assert shown.panels == ()
    assert shown.facts[0].startswith("Nothing can be drawn: ")


def test_long_curves_are_thinned() -> None:
    times = np.arange(0, 5, 1 / 1000)
    drawn = drawn_trial(times, {"torso_peak_speed": bell(times, 2, 45, 900)}, None, TraceSettings())
    assert len(build_trace(drawn, (row(),), "release").panels[0].samples) <= MOST_POINTS


def test_trials_are_offered_with_what_there_is_to_look_at() -> None:
    rows = [row(), row(trial=2, row_no=200, speed=-900.0), row("bat_peak_speed", trial=3, row_no=400)]
    trials = trials_of_day(rows, ON)
    assert trials == {
        "Trial 1": ("feed", 2),
        "Trial 2: 1 to look at": ("feed", 200),
        "Trial 3": ("feed", 400),
    }
    assert first_worth_a_look(trials) == "Trial 2: 1 to look at"
    assert first_worth_a_look({}) is None


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, relative luminance and contrast ratio."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_every_segment_is_drawn_in_the_same_colours_with_contrast() -> None:
    shown = sheet(bell(T, 0.518, 45, 1104))
    for colours in (LIGHT, DARK):
        assert isinstance(colours, Palette)
        drawings = [str(d.to_dict()) for d in draw_trace(shown, colours)]
        used = [
            {c for c in (colours.ink, colours.slate, colours.ochre, colours.tape) if c in d} for d in drawings
        ]
        assert used[0] == used[1]  # no code of colours for segments
        for text in (colours.ink, colours.slate):
            assert contrast(text, colours.paper) >= 4.5
