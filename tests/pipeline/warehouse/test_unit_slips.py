"""A column in another unit is asked about: by the athlete's other day, and by what is plausible at their age."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from tests.conftest import LONG, Camp

pytestmark = pytest.mark.usefixtures("rows_only")

SPREAD = {"T1": 0.95, "T2": 1.08, "T4": 1.0, "T5": 0.92}
FIRST = date(2032, 6, 2)
SLIPS = [
    ("exit_speed", "mph", 75.0, 0.44704),  # m/s
    ("exit_speed", "mph", 75.0, 1.609344),  # km/h
    ("throw_speed", "m/s", 33.0, 1 / 0.44704),  # mph
    ("countermovement_jump", "cm", 45.0, 1 / 2.54),  # inches
    ("countermovement_jump", "in", 18.0, 2.54),  # centimetres
    ("broad_jump", "ft", 7.3, 1 / 3),  # yards
    ("medicine_ball_throw", "m", 9.0, 1 / 0.3048),  # feet
    ("grip_strength", "kg", 45.0, 1 / 0.45359237),  # pounds
]


def a_day(measure: str, unit: str, base: float, day: date, factor: float = 1.0) -> str:
    return "".join(
        f"{athlete},{day},{measure},{base * own * factor * (1 + 0.01 * trial):.2f},{unit},{trial}\n"
        for athlete, own in SPREAD.items()
        for trial in (1, 2, 3)
    )


@pytest.mark.parametrize(("measure", "unit", "base", "factor"), SLIPS)
def test_a_second_day_in_another_unit_is_held(
    camp: Camp, measure: str, unit: str, base: float, factor: float
) -> None:
    second = FIRST + timedelta(days=14)
    camp.take("first.csv", LONG + a_day(measure, unit, base, FIRST))
    camp.take("second.csv", LONG + a_day(measure, unit, base * 1.02, second, factor))
    result = camp.rows(
        f"select rule, proposal, count(*) from held_row where measured_on = '{second}' group by all"
    )
    assert result == [("unit_slip", "value", 12)]


@pytest.mark.parametrize(("measure", "unit", "base"), [slip[:3] for slip in SLIPS])
def test_a_second_day_in_its_own_unit_passes(camp: Camp, measure: str, unit: str, base: float) -> None:
    camp.take("first.csv", LONG + a_day(measure, unit, base, FIRST))
    camp.take("second.csv", LONG + a_day(measure, unit, base * 1.06, FIRST + timedelta(days=14)))
    assert camp.rows("select * from held_row") == []


def test_one_mishit_on_the_second_day_is_no_unit(camp: Camp) -> None:
    camp.take("first.csv", LONG + a_day("exit_speed", "mph", 75, FIRST))
    lines = "".join(f"T1,2032-06-16,exit_speed,{v},mph,{t}\n" for t, v in enumerate((72.0, 44.6, 71.0), 1))
    camp.take("second.csv", LONG + lines)
    assert camp.rows("select rule from held_row") == []


def first_file(camp: Camp, factor: float) -> None:
    people = "".join(f"N{i},New Person {chr(64 + i)},2014-0{i}-01,male,baseball\n" for i in range(1, 8))
    camp.take("new.csv", "athlete_id,name,birth_date,sex,sport\n" + people)
    camp.take("s.csv", "athlete,camp,arrived_on\n" + "".join(f"N{i},K,2032-06-01\n" for i in range(1, 8)))
    lines = "".join(f"N{i},2032-06-02,exit_speed,{(68 + 3 * i) * factor:.1f},mph,1\n" for i in range(1, 8))
    camp.take("first.csv", LONG + lines)


def test_a_first_file_in_metres_per_second_is_one_question(camp: Camp) -> None:
    first_file(camp, 0.44704)
    assert camp.rows("select rule, count(*), count(distinct group_id) from held_row group by all") == [
        ("whole_file_unit", 7, 1)
    ]


def test_a_first_file_in_its_own_unit_passes(camp: Camp) -> None:
    first_file(camp, 1.0)
    assert camp.rows("select * from held_row") == []
