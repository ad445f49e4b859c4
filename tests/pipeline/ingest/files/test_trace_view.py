"""One trial of a landed trace file read again: that file and those lines only, whoever asks for another is told."""

from __future__ import annotations

import numpy as np
import pytest

from latewood.pipeline.errors import LandingError
from latewood.pipeline.ingest.files import trace_view
from latewood.pipeline.ingest.files.trace_view import read_drawn_trial, read_drawn_trials
from tests.calibration.study_traces import bell
from tests.conftest import Camp

pytestmark = pytest.mark.usefixtures("rows_only")

RATE = 250
T = np.arange(0, 0.8, 1 / RATE)
MAPPING = """
name = "Swing traces"
applies_to = "swings_*.csv"
kind = "traces"
layout = "{layout}"
[columns]
athlete = "Athlete"
measured_on = "Date"
trial = "Swing"
time = "Time"
event = "Mark"
{more}
[conditions]
action = "swing"
sensor_class = "inertial"
event = "contact"
"""
VALUES = "".join(
    f'[[values]]\nmeasure = "{key}_peak_speed"\ncolumns = ["{word}"]\nunit = "deg/s"\n'
    for key, word in (("pelvis", "Pelvis"), ("bat", "Bat"))
)
WORDS = (
    '[measure_names]\n"Pelvis" = "pelvis_peak_speed"\n"Bat" = "bat_peak_speed"\n'
    '[units]\npelvis_peak_speed = "deg/s"\nbat_peak_speed = "deg/s"\n'
)


def heights(swing: int) -> tuple[float, float]:
    return 600.0 + 10 * swing, 2000.0 + 20 * swing


def wide() -> str:
    lines = ["Athlete,Date,Swing,Time,Pelvis,Bat,Mark"]
    for swing in (1, 2, 3):
        low, high = heights(swing)
        for stamp, a, b in zip(T, bell(T, 0.5, 50, low), bell(T, 0.6, 22, high), strict=True):
            mark = "contact" if abs(stamp - 0.62) < 0.001 else ""
            lines.append(f"T1,2032-06-20,{swing},{stamp:.3f},{a:.1f},{b:.1f},{mark}")
    return "\n".join(lines) + "\n"


def long() -> str:
    lines = wide().splitlines()[1:]
    result = ["Athlete,Date,Swing,Time,Segment,Speed,Mark"]
    for word, at in (("Pelvis", 4), ("Bat", 5)):
        for line in lines:
            cells = line.split(",")
            result.append(",".join([*cells[:4], word, cells[at], cells[6]]))
    return "\n".join(result) + "\n"


@pytest.mark.parametrize("layout", ["wide", "long"])
def test_a_file_is_read_once_with_every_event_that_it_marks(camp: Camp, layout: str) -> None:
    text = {"wide": wide, "long": long}[layout]()
    marked = [f"{line}foot plant" if line.split(",")[3] == "0.400" else line for line in text.splitlines()]
    import_id = take(camp, layout, "\n".join(marked) + "\n")
    trials = read_drawn_trials(camp.root, import_id)
    starts = [row for (row,) in camp.rows("select distinct min(row_no) from trace_channel group by trial")]
    assert sorted(trials) == sorted(starts)
    for row_no, trial in trials.items():
        assert trial.event == pytest.approx(0.62)
        assert trial.marks == pytest.approx({"foot plant": 0.4, "contact": 0.62})
        alone = read_drawn_trial(camp.root, import_id, row_no)
        assert [c.peak for c in alone.channels] == [c.peak for c in trial.channels]


def take(camp: Camp, layout: str, content: str = "") -> str:
    more = 'measure = "Segment"\nvalue = "Speed"' if layout == "long" else ""
    text = MAPPING.format(layout=layout, more=more) + (WORDS if layout == "long" else VALUES)
    outcome = camp.take(
        "swings_a.csv", content or {"wide": wide, "long": long}[layout](), camp.write("m.toml", text)
    )
    assert (outcome.rows_taken, outcome.rows_held) == (12, 0)
    return camp.rows("select import_id from import where kind = 'traces'")[0][0]


@pytest.mark.parametrize("layout", ["wide", "long"])
def test_the_trial_asked_for_is_read_with_its_event(camp: Camp, layout: str) -> None:
    import_id = take(camp, layout)
    starts = camp.rows("select trial, min(row_no) from trace_channel group by 1 order by 1")
    for trial, row_no in starts:
        result = read_drawn_trial(camp.root, import_id, row_no)
        speeds = [c.peak.speed for c in result.channels]
        assert speeds == pytest.approx(heights(trial), rel=0.01)
        assert result.event == pytest.approx(0.62)
    # a column of the bat's speed is not the bat that was used: the readings stand in one line
    assert camp.rows("select distinct line from reading where measure = 'bat_peak_speed'") == [
        ("action=swing; sensor_class=inertial",)
    ]


def test_only_the_lines_of_the_trial_are_turned_into_numbers(camp: Camp, monkeypatch) -> None:
    import_id = take(camp, "wide")
    observed = []
    real = trace_view.trials_of
    monkeypatch.setattr(
        trace_view, "trials_of", lambda n, t, *a: observed.append(len(t.frame)) or real(n, t, *a)
    )
    read_drawn_trial(camp.root, import_id, 2 + len(T))
    assert observed == [len(T)]


def test_what_is_not_there_is_said(camp: Camp) -> None:
    import_id = take(camp, "wide")
    with pytest.raises(LandingError, match="no trial that begins on line 3"):
        read_drawn_trial(camp.root, import_id, 3)
    for unknown in ("feedfeedfeed", "../../x", "*"):
        with pytest.raises(LandingError, match="holds no import"):
            read_drawn_trial(camp.root, unknown, 2)


def test_a_file_that_was_changed_is_not_drawn(camp: Camp) -> None:
    import_id = take(camp, "wide")
    file = next((camp.root / "landing").glob("*/swings_a.csv"))
    file.write_text(file.read_text().replace("2032", "2031"))
    with pytest.raises(LandingError, match="changed after it arrived"):
        read_drawn_trial(camp.root, import_id, 2)
