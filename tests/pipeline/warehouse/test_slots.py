"""A bare number for an athlete is an answer for one day of one file: the next day's draw asks anew."""

from __future__ import annotations

import json

import pytest

from latewood.pipeline.ingest.build.settle import decide
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.warehouse.slots import is_slot, is_slot_header
from tests.conftest import LONG, Camp

pytestmark = pytest.mark.usefixtures("rows_only")


def throws(day: str, values: dict[str, float], slot: str = "{}") -> str:
    lines = [
        f"{slot.format(number)},{day},throw_speed,{value + trial * 0.4:.1f},mph,{trial}"
        for number, value in values.items()
        for trial in (1, 2, 3)
    ]
    return LONG + "\n".join(lines) + "\n"


def answer(camp: Camp, file: str, athletes: dict[str, str]) -> None:
    for text, athlete in athletes.items():
        result = camp.rows(
            f"select distinct group_id from held_row join import using (import_id) where state = 'open' "
            f"and file_name = '{file}' and athlete_text = '{text}'"
        )
        decide(
            camp.root,
            [str(row[0]) for row in result],
            Answer(action="assign", who="steward", why="the slot list", argument=athlete),
        )


def owners(camp: Camp, file: str) -> list[tuple[object, ...]]:
    return camp.rows(
        f"select distinct athlete_id, raw_value from reading join import using (import_id) "
        f"where file_name = '{file}' and trial = 1 order by all"
    )


@pytest.mark.parametrize("slot", ["{}", "#{}", "Player {}", "slot {}", "P{}"])
def test_slots_drawn_anew_are_asked_anew(camp: Camp, slot: str) -> None:
    first, second = slot.format(1), slot.format(2)
    camp.take("monday.csv", throws("2032-06-07", {"1": 70.0, "2": 60.0}, slot))
    answer(camp, "monday.csv", {first: "T1", second: "T2"})
    assert owners(camp, "monday.csv") == [("T1", "70.4"), ("T2", "60.4")]
    camp.take("tuesday.csv", throws("2032-06-08", {"1": 61.0, "2": 71.0}, slot))
    assert owners(camp, "tuesday.csv") == []
    assert camp.rows("select distinct rule, state from held_row where measured_on = '2032-06-08'") == [
        ("unknown_athlete", "open")
    ]
    answer(camp, "tuesday.csv", {first: "T2", second: "T1"})
    assert owners(camp, "tuesday.csv") == [("T1", "71.4"), ("T2", "61.4")]
    assert owners(camp, "monday.csv") == [("T1", "70.4"), ("T2", "60.4")]


def test_an_answer_holds_for_its_day_where_a_file_has_two(camp: Camp) -> None:
    days = [throws(day, {"1": 70.0}) for day in ("2032-06-07", "2032-06-08")]
    camp.take("week.csv", days[0] + days[1].removeprefix(LONG))
    groups = camp.rows("select distinct group_id from held_row order by 1")
    assert len(groups) == 2
    decide(
        camp.root,
        [str(groups[0][0])],
        Answer(action="assign", who="steward", why="the slot list", argument="T1"),
    )
    assert camp.rows("select measured_on::varchar, count(*) from reading group by 1") == [("2032-06-07", 3)]


def test_an_answer_about_one_row_of_a_slot_reaches_the_day_of_its_file(camp: Camp) -> None:
    camp.take("monday.csv", throws("2032-06-07", {"1": 70.0}))
    one = camp.rows("select min(held_id) from held_row")[0][0]
    decide(camp.root, [str(one)], Answer(action="assign", who="steward", why="the slot list", argument="T1"))
    assert camp.rows("select athlete_id, count(*) from reading group by 1") == [("T1", 3)]


def test_decisions_of_an_older_folder_are_read_so_too(camp: Camp) -> None:
    camp.take("monday.csv", throws("2032-06-07", {"1": 70.0}))
    held = [str(row[0]) for row in camp.rows("select held_id from held_row")]
    line = {
        "decision_id": "0123456789ab", "decided_at": "2032-06-07T12:00:00-05:00", "decided_by": "steward",
        "action": "assign", "why": "list", "targets": {
            one: {"stage": "row", "argument": "T1", "rule": "unknown_athlete"} for one in held
        },
    }  # fmt: skip
    (camp.root / "decisions.jsonl").write_text(json.dumps(line) + "\n", encoding="utf-8")
    camp.take("tuesday.csv", throws("2032-06-08", {"1": 61.0}))
    assert camp.rows("select distinct athlete_id, measured_on::varchar from reading") == [
        ("T1", "2032-06-07")
    ]


def test_a_name_is_still_remembered(camp: Camp) -> None:
    camp.take("monday.csv", throws("2032-06-07", {"": 70.0}, "Fernmossy"))
    answer(camp, "monday.csv", {"Fernmossy": "T1"})
    camp.take("tuesday.csv", throws("2032-06-08", {"": 71.0}, "Fernmossy"))
    assert owners(camp, "tuesday.csv") == [("T1", "71.4")]


def test_the_same_slot_and_value_in_two_files_of_one_day_are_two_throws(camp: Camp) -> None:
    camp.take("cage_a.csv", throws("2032-06-07", {"1": 70.0}))
    camp.take("cage_b.csv", throws("2032-06-07", {"1": 70.0, "2": 66.0}))
    assert camp.rows("select sum(rows_recognised) from import") == [(0,)]
    answer(camp, "cage_a.csv", {"1": "T1"})
    answer(camp, "cage_b.csv", {"1": "T2", "2": "T4"})
    assert camp.rows("select athlete_id, count(*) from reading group by 1 order by 1") == [
        ("T1", 3), ("T2", 3), ("T4", 3)
    ]  # fmt: skip


def test_a_lane_is_not_the_athlete_whose_id_is_that_number(camp: Camp) -> None:
    camp.take("numbers.csv", "athlete_id,name\n1,Perrin Wheatley\n")
    camp.take("s.csv", "athlete,camp,arrived_on\n1,K,2032-06-01\n")
    mapping = camp.write("radar.toml", 'name = "Radar"\nkind = "readings"\n[columns]\nathlete = "Lane"\n')
    text = throws("2032-06-07", {"1": 70.0})
    camp.take("radar.csv", text.replace("athlete", "Lane", 1), mapping)
    assert camp.rows("select count(*) from reading") == [(0,)]
    camp.take("own.csv", text)
    assert camp.rows("select distinct athlete_id from reading") == [("1",)]


def test_headers_that_hold_places() -> None:
    assert all(map(is_slot_header, ("Slot", "LANE", "Station no.", "Place")))
    assert not any(map(is_slot_header, ("Athlete", "Player", "ID", "Name", "Athlete_ID", "Jersey")))
    assert not any(map(is_slot, ("Ng Wei", "Bo", "T. Reed", "Ana 2")))
