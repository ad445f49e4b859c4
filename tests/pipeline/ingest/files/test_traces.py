"""Files of rotational-speed traces: read trial by trial, held where a sensor is doubted, every row accounted for."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from latewood.pipeline.errors import DecisionError, FileUnreadableError, MappingError
from latewood.pipeline.ingest.actions import decide, withdraw
from latewood.pipeline.ingest.logs.decisions import Answer
from tests.calibration.study_traces import bell
from tests.conftest import Camp

pytestmark = pytest.mark.usefixtures("rows_only")

RATE, RELEASE = 250, 0.60
T = np.arange(0, 0.9, 1 / RATE)
# height deg/s, ms before the release, width ms
THROW = {
    "Pelvis": (655, 118, 50),
    "Torso": (1104, 82, 45),
    "Upper arm": (1500, 52, 32),
    "Forearm": (1900, 30, 28),
}
KEYS = {name: f"{name.lower().replace(' ', '_')}_peak_speed" for name in THROW}
MAPPING = """
name = "Throw traces"
applies_to = "traces_*.csv"
kind = "traces"
layout = "wide"
[columns]
athlete = "Athlete"
measured_on = "Date"
trial = "Throw"
time = "Time"
event = "Mark"
[conditions]
action = "throw"
sensor_class = "inertial"
event = "release"
""" + "".join(
    f'[[values]]\nmeasure = "{KEYS[name]}"\ncolumns = ["{name}"]\nunit = "deg/s"\n' for name in THROW
)


def channels(rep, *, turned=(), lost=(), late=()):
    rng = np.random.default_rng(rep)
    result = {}
    for name, (height, ahead, width) in THROW.items():
        at = RELEASE - ahead / 1000 + (0.045 if name in late else 0) + rng.normal(0, 0.002)
        values = bell(T, at, width, height) + rng.normal(0, 6, len(T))
        if name == "Torso":
            values += -bell(T, 0.75, 50, 212)
        result[name] = values * (-1 if name in turned else 1)
        if name in lost:
            result[name] = np.zeros(len(T))
    return result


def wide(athlete="T1", on="2032-06-20", reps=8, blank=(), unit=1.0, **faults) -> list[list[str]]:
    rows = [["Athlete", "Date", "Throw", "Time", *THROW, "Mark"]]
    for rep in range(1, reps + 1):
        result = channels(rep, **{**faults, "late": ("Pelvis",) if rep == 5 else ()})
        for at, stamp in enumerate(T):
            cells = ["" if name in blank else f"{result[name][at]:.1f}" for name in THROW]
            mark = "release" if at == round(RELEASE * RATE) else ""
            rows.append([athlete, on, str(rep), f"{stamp * unit:.3f}", *cells, mark])
    return rows


def text(rows: list[list[str]]) -> str:
    return "\n".join(",".join(row) for row in rows) + "\n"


def mapping(camp: Camp, content: str = MAPPING) -> Path:
    return camp.write("traces.toml", content)


def accounted(camp: Camp) -> bool:
    sums = camp.rows(
        "select rows_in, rows_taken + rows_held + rows_recognised + rows_rejected from import "
        "where kind = 'traces' and not withdrawn"
    )
    return bool(sums) and all(a == b for a, b in sums)


def test_peaks_and_times_become_readings(camp: Camp) -> None:
    outcome = camp.take("traces_a.csv", text(wide()), mapping(camp))
    assert (outcome.kind, outcome.rows_in, outcome.rows_taken, outcome.rows_held) == ("traces", 64, 64, 0)
    assert any("8 trials, 250 samples a second, low-pass at 25 Hz" in note for note in outcome.notes)
    result = dict(camp.rows("select measure, value from session_value order by 1"))
    for name, (height, ahead, _) in THROW.items():
        assert result[KEYS[name]] == pytest.approx(height, rel=0.02)
        assert result[KEYS[name].replace("_speed", "_time")] == pytest.approx(-ahead, abs=3)
    assert accounted(camp)


def test_long_files_workbooks_and_milliseconds_give_the_same_peaks(camp: Camp) -> None:
    camp.take("traces_a.csv", text(wide(reps=2)), mapping(camp))
    expected = camp.rows("select measure, trial, round(value) from reading order by all")
    withdraw(camp.root, camp.rows("select import_id from import where kind = 'traces'")[0][0], "me", "again")
    book = openpyxl.Workbook()
    for row in wide(reps=2, unit=1000):
        book.active.append(row)
    raw = io.BytesIO()
    book.save(raw)
    camp.take("traces.xlsx", raw.getvalue(), mapping(camp))
    assert camp.rows("select measure, trial, round(value) from reading order by all") == expected
    withdraw(
        camp.root,
        camp.rows("select import_id from import where file_name = 'traces.xlsx'")[0][0],
        "me",
        "again",
    )
    rows = wide(reps=2)
    melted = ["Athlete,Date,Throw,Time,Segment,Speed,Mark"]
    for name in THROW:
        at = rows[0].index(name)
        melted += [",".join([*row[:4], name, row[at], row[-1]]) for row in rows[1:]]
    words = "".join(f'"{name}" = "{key}"\n' for name, key in KEYS.items())
    units = "".join(f'{key} = "deg/s"\n' for key in KEYS.values())
    long = (
        MAPPING
        .split("[[values]]")[0]
        .replace('"wide"', '"long"')
        .replace('event = "Mark"', 'event = "Mark"\nmeasure = "Segment"\nvalue = "Speed"')
    )
    camp.take(
        "long.csv", "\n".join(melted) + "\n", mapping(camp, f"{long}[measure_names]\n{words}[units]\n{units}")
    )
    assert camp.rows("select measure, trial, round(value) from reading order by all") == expected
    assert accounted(camp)


def test_a_reversed_sensor_is_held_and_mended_by_a_decision_only(camp: Camp) -> None:
    camp.take("traces_a.csv", text(wide(turned=("Torso",))), mapping(camp))
    held = camp.frame("select * from held_row where state = 'open'")
    assert list(held["rule"].unique()) == ["reversed_sensor"]
    assert len(held) == 8
    assert held["group_id"].nunique() == 1
    assert (held["raw_value"].astype(float) < -1000).all()
    assert (held["proposed_value"] == -held["raw_value"].astype(float)).all()
    assert camp.rows("select count(*) from session_value where measure = 'torso_peak_speed'") == [(0,)]
    assert accounted(camp)
    decide(camp.root, [held["group_id"].iloc[0]], Answer(action="mend", who="Ira", why="the film shows it"))
    assert camp.rows("select round(value / 10) from session_value where measure = 'torso_peak_speed'") == [
        (110.0,)
    ]
    assert camp.rows(
        "select count(*), max(mend), max(raw_value::double) < 0 from reading where measure = 'torso_peak_speed'"
    ) == [(8, "reversed_sensor", True)]
    assert camp.rows("select distinct why, applied from decision") == [("the film shows it", True)]
    assert accounted(camp)


def test_all_channels_reversed_asks_and_mends_nothing(camp: Camp) -> None:
    camp.take("traces_a.csv", text(wide(turned=tuple(THROW))), mapping(camp))
    held = camp.frame("select * from held_row where state = 'open'")
    assert list(held["rule"].unique()) == ["all_reversed"]
    assert set(held["proposal"]) == {"none"}
    with pytest.raises(DecisionError, match="no proposed value"):
        decide(camp.root, [held["group_id"].iloc[0]], Answer(action="mend", who="Ira", why="turn it all"))
    assert accounted(camp)


def test_a_blank_channel_is_no_row_and_a_dead_one_is_held_with_its_reason(camp: Camp) -> None:
    outcome = camp.take("traces_a.csv", text(wide(blank=("Forearm",), lost=("Upper arm",))), mapping(camp))
    assert (outcome.rows_in, outcome.rows_taken, outcome.rows_held) == (40, 32, 8)
    held = camp.frame("select * from held_row")
    assert set(held["rule"]) == {"channel_lost"}
    assert held["group_id"].nunique() == 1
    assert set(held["reason"]) == {"the channel is flat, at 0 deg/s"}
    words = camp.rows(
        "select measure, state, reason, count(*) from trace_channel where state = 'missing' group by all order by 1"
    )
    assert words == [
        ("forearm_peak_speed", "missing", "nothing was recorded", 8),
        ("upper_arm_peak_speed", "missing", "the channel is flat, at 0 deg/s", 8),
    ]
    with pytest.raises(DecisionError, match="cannot be taken as it is"):
        decide(camp.root, [held["group_id"].iloc[0]], Answer(action="accept", who="Ira", why="no"))
    decide(camp.root, [held["group_id"].iloc[0]], Answer(action="reject", who="Ira", why="sensor was off"))
    assert camp.rows("select rows_held, rows_rejected from import where kind = 'traces'") == [(0, 8)]
    assert accounted(camp)


def test_without_an_event_there_are_speeds_and_no_times(camp: Camp) -> None:
    rows = [row[:-1] for row in wide(reps=1)]
    outcome = camp.take("traces_a.csv", text(rows), mapping(camp, MAPPING.replace('event = "Mark"\n', "")))
    assert (outcome.rows_in, outcome.rows_taken) == (4, 4)


def test_the_same_file_again_and_a_withdrawal(camp: Camp) -> None:
    path = mapping(camp)
    first = camp.take("traces_a.csv", text(wide(reps=2)), path)
    assert camp.take("traces_b.csv", text(wide(reps=2)), path).state == "already there"
    again = camp.take("traces_c.csv", text(wide(reps=3)), path)
    assert (again.rows_in, again.rows_taken, again.rows_recognised) == (24, 8, 16)
    withdraw(camp.root, again.import_id, "me", "wrong day")
    withdraw(camp.root, first.import_id, "me", "wrong day")
    assert camp.rows("select count(*) from reading") == [(0,)]
    assert camp.rows("select count(*) from trace_channel") == [(0,)]


def test_athlete_day_and_trial_may_stand_in_the_files_name(camp: Camp) -> None:
    rows = [row[3:] for row in wide(reps=1)]
    named = MAPPING.replace('athlete = "Athlete"\nmeasured_on = "Date"\ntrial = "Throw"\n', "")
    named += '[trace]\nfile_name = "traces_{athlete}_{measured_on}_{trial}.csv"\n'
    camp.take("traces_T2_2032-06-20_3.csv", text(rows), mapping(camp, named))
    assert camp.rows("select distinct athlete_id, measured_on::varchar, trial from reading") == [
        ("T2", "2032-06-20", 3)
    ]
    with pytest.raises(FileUnreadableError, match="is not named like"):
        camp.take("traces_T2.csv", text(rows), mapping(camp, named))


def test_a_cut_off_of_ones_own_is_used_and_kept(camp: Camp) -> None:
    own = MAPPING + '[trace]\ncutoff_hz = 12\ncutoff_source = "maker\'s note"\n'
    camp.take("traces_a.csv", text(wide(reps=1)), mapping(camp, own))
    assert camp.rows("select distinct cutoff_hz, cutoff_source from trace_channel") == [
        (12.0, "maker's note")
    ]
    blunt = camp.rows("select value from reading where measure = 'forearm_peak_speed'")[0][0]
    assert blunt < 0.97 * 1900


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("[[values]]", "[trace]\ncutoff_hz = 90\n[[values]]"), "is not a number from 5 to 40"),
        (("[[values]]", "[trace]\ncutoff_hz = 12\n[[values]]"), "needs cutoff_source"),
        (("[[values]]", "[trace]\nwindow = 12\n[[values]]"), "no such field"),
        (("[[values]]", '[trace]\nfile_name = "{coach}.csv"\n[[values]]'), "is not one of athlete"),
        (("pelvis_peak_speed", "body_mass"), "rotational speed of segments|is not accepted"),
        (('["Pelvis"]', '["Pelvis", "Pelvis 2"]'), "in one column"),
    ],
)
def test_a_mapping_that_cannot_be_meant_is_refused(camp: Camp, change: tuple[str, str], words: str) -> None:
    with pytest.raises(MappingError, match=words):
        camp.take("traces_a.csv", text(wide(reps=1)), mapping(camp, MAPPING.replace(*change, 1)))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('time = "Time"', 'time = "Clock"'), "no column 'Clock'"),
        (('athlete = "Athlete"\n', 'athlete = "Who"\n'), "no column 'Who'"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(camp: Camp, change: tuple[str, str], words: str) -> None:
    with pytest.raises(FileUnreadableError, match=words):
        camp.take("traces_a.csv", text(wide(reps=1)), mapping(camp, MAPPING.replace(*change, 1)))


def test_a_trace_that_is_too_slow_is_held_with_its_rate(camp: Camp) -> None:
    rows = wide(reps=1)
    camp.take("traces_a.csv", text([rows[0], *rows[1::5]]), mapping(camp))
    reasons = camp.rows("select distinct rule, reason from held_row")
    assert len(reasons) == 1
    assert "100 to 1000 a second" in reasons[0][1]
    assert accounted(camp)
