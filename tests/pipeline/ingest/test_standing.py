"""A later people file leaves what it does not name: a column that is not there says nothing."""

from __future__ import annotations

import time
from datetime import date

import pytest

from latewood.pipeline.ingest.logs.standing import current_records
from tests.conftest import Camp

pytestmark = pytest.mark.usefixtures("rows_only")


def test_a_roster_with_fewer_columns_leaves_what_earlier_ones_said(camp: Camp) -> None:
    camp.take("later.csv", "athlete_id,name,sport\nT1,Arlo Fernmoss,baseball\nT2,Bram Siltwood,\n")
    result = camp.rows(
        "select birth_date::varchar, sex, sport, graduation_year, positions, bats, throws from athlete "
        "where athlete_id in ('T1', 'T2') order by athlete_id"
    )
    # An empty cell under a column that is there takes back what it names, and nothing else.
    assert result == [
        ("2016-03-01", "male", "baseball", 2034, "OF/1B", "R", "R"),
        ("2015-07-15", "male", None, 2033, "C", "L", "R"),
    ]
    assert camp.rows("select athlete_id, alias from alias") == [("T1", "Arlo F.")]


def test_camps_keep_place_zone_and_test_days(camp: Camp) -> None:
    full = "camp_id,label,starts_on,ends_on,time_zone,place,test_days\n"
    camp.take(
        "days.csv",
        full + "K,Heath camp,2032-06-01,2032-08-15,America/Denver,Field 3,2032-06-07|2032-07-07\n",
    )
    camp.take("later.csv", "camp_id,label,starts_on,ends_on\nK,Heath camp,2032-06-01,2032-08-20\n")
    assert camp.rows("select ends_on::varchar, time_zone, place from camp") == [
        ("2032-08-20", "America/Denver", "Field 3")
    ]
    assert camp.rows("select count(*) from test_day") == [(2,)]


def test_stays_keep_the_day_of_leaving_and_the_plan(camp: Camp) -> None:
    camp.take("later.csv", "athlete,camp,arrived_on\nT3,K,2032-06-02\nT1,K,2032-06-01\n")
    result = camp.rows(
        "select athlete_id, arrived_on, left_on, planned_until, left_early, leave_reason from stay "
        "where athlete_id in ('T1', 'T3') order by 1"
    )
    assert result == [
        ("T1", date(2032, 6, 1), date(2032, 8, 15), date(2032, 8, 15), False, None),
        ("T3", date(2032, 6, 2), date(2032, 6, 20), date(2032, 8, 15), True, "family"),
    ]


def test_an_empty_day_of_leaving_takes_it_back(camp: Camp) -> None:
    camp.take("later.csv", "athlete,camp,arrived_on,left_on\nT3,K,2032-06-01,\n")
    assert camp.rows("select left_on, left_early from stay where athlete_id = 'T3'") == [(None, False)]


def test_a_file_with_only_the_second_stay_leaves_the_first(camp: Camp) -> None:
    for _ in range(2):  # and sent again with more to say it is the same stay
        camp.take("again.csv", "athlete,camp,arrived_on\nT3,K,2032-07-01\n")
        camp.take("gone.csv", "athlete,camp,arrived_on,left_on\nT3,K,2032-07-01,2032-07-20\n")
    assert camp.rows("select stay_id, arrived_on, left_on from stay where athlete_id = 'T3' order by 1") == [
        ("T3@K", date(2032, 6, 1), date(2032, 6, 20)),
        ("T3@K/2", date(2032, 7, 1), date(2032, 7, 20)),
    ]


def test_plans_keep_their_approval_and_end(camp: Camp) -> None:
    needed = "plan_id,athlete,start_on,start_mass,target_on,target_mass,unit"
    row = "P1,T1,2032-06-01,72,2032-08-01,75,kg"
    camp.take("plans.csv", f"{needed},approved_by,ended_on,purpose\n{row},Guardian,2032-07-01,gain\n")
    camp.take("later.csv", f"{needed},reason\n{row},typed again\n")
    assert camp.rows("select approved_by, ended_on, purpose, reason from plan") == [
        ("Guardian", date(2032, 7, 1), "gain", "typed again")
    ]


def test_many_stays_are_placed_in_time_proportional_to_their_number() -> None:
    first, last = date(2032, 6, 1), date(2032, 8, 15)
    stays = [
        {
            "stay_id": f"T{n}@K", "athlete_id": f"T{n}", "camp_id": "K", "arrived_on": first, "left_on": last,
            "planned_until": last, "stated": frozenset(),
        }
        for n in range(16_000)
    ]  # fmt: skip
    began = time.process_time()
    assert len(current_records("stays", ("stay_id",), stays)) == 16_000
    assert (
        time.process_time() - began < 2.0
    )  # growing with the square of their number it took 3 s for half as many
