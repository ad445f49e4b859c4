"""Times of peaks typed without their minus, or in seconds, are asked about once for the file and never stored so."""

from __future__ import annotations

import pytest

from latewood.pipeline.ingest.build.settle import decide
from latewood.pipeline.ingest.logs.decisions import Answer
from tests.conftest import Camp

pytestmark = pytest.mark.usefixtures("rows_only")

HEADER = "athlete,measured_on,measure,value,unit,trial,action,sensor_class,event\n"
BEFORE = {"pelvis_peak_time": 92.0, "torso_peak_time": 68.0, "hand_peak_time": 21.0}


def peaks(sign: float = 1, event: str = "contact", athletes: tuple[str, ...] = ("T1", "T2"), unit: str = "ms",
          scale: float = 1.0, day: str = "2032-06-07") -> str:  # fmt: skip
    return "".join(
        f"{athlete},{day},{measure},{sign * (value + trial) * scale:g},{unit},{trial},swing,inertial,{event}\n"
        for athlete in athletes
        for measure, value in BEFORE.items()
        for trial in (1, 2, 3, 4)
    )


@pytest.mark.parametrize("event", ["contact", "release", ""])
def test_times_to_the_event_typed_as_positive_are_one_question_for_the_file(camp: Camp, event: str) -> None:
    camp.take("peaks.csv", HEADER + peaks(event=event))
    assert camp.rows("select count(*) from reading") == [(0,)]
    groups = camp.rows("select group_id, rule, proposal, count(*) from held_row group by all")
    assert [row[1:] for row in groups] == [("peaks_after", "value", 24)]
    assert "{" not in str(camp.rows("select reason from held_row")[0][0])
    decide(
        camp.root, [str(groups[0][0])], Answer(action="mend", who="steward", why="they are times to contact")
    )
    assert camp.rows("select count(*), min(value), max(value) from reading") == [(24, -96.0, -22.0)]
    assert camp.rows("select count(*) from held_row where state = 'open'") == [(0,)]


def test_peaks_that_are_after_the_event_can_be_taken_as_they_are(camp: Camp) -> None:
    camp.take("peaks.csv", HEADER + peaks())
    group = camp.rows("select distinct group_id from held_row")[0][0]
    decide(camp.root, [str(group)], Answer(action="accept", who="steward", why="seen on film"))
    assert camp.rows("select count(*), min(value) > 0 from reading") == [(24, True)]


def test_an_athletes_day_is_held_though_the_file_has_good_ones(camp: Camp) -> None:
    camp.take("peaks.csv", HEADER + peaks(-1, athletes=("T1",)) + peaks(1, athletes=("T2",)))
    assert camp.rows("select distinct athlete_id, rule from held_row") == [("T2", "peaks_after")]
    assert camp.rows("select distinct athlete_id from reading") == [("T1",)]


def test_one_peak_without_its_minus_is_held_alone(camp: Camp) -> None:
    text = peaks(-1).replace("T1,2032-06-07,pelvis_peak_time,-94", "T1,2032-06-07,pelvis_peak_time,94")
    camp.take("peaks.csv", HEADER + text)
    assert camp.rows("select rule, proposed_value from held_row") == [("peaks_after", -94.0)]


def test_peaks_before_the_event_and_a_bat_just_after_it_pass(camp: Camp) -> None:
    bat = "".join(
        f"T1,2032-06-07,bat_peak_time,{v},ms,{t},swing,inertial,contact\n"
        for t, v in ((1, 4), (2, -3), (3, 6))
    )
    camp.take("peaks.csv", HEADER + peaks(-1) + bat)
    assert camp.rows("select count(*) from held_row") == [(0,)]


def test_peaks_after_foot_plant_pass(camp: Camp) -> None:
    camp.take("peaks.csv", HEADER + peaks(event="foot plant"))
    assert camp.rows("select count(*) from held_row") == [(0,)]


@pytest.mark.parametrize("sign", [1, -1])
def test_seconds_in_a_column_of_milliseconds_are_asked(camp: Camp, sign: int) -> None:
    camp.take("peaks.csv", HEADER + peaks(sign, scale=0.001))
    assert camp.rows("select distinct rule, state from held_row") == [("peaks_in_seconds", "open")]
    group = camp.rows("select distinct group_id from held_row")[0][0]
    decide(camp.root, [str(group)], Answer(action="mend", who="steward", why="seconds"))
    assert camp.rows("select count(*), round(min(value)), round(max(value)) from reading") == [(24, -96, -22)]
