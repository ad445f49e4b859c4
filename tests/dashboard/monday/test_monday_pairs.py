"""Who is proposed for a second test day, and which calendars have none."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from made import CAMP, STAY, lookup

from latewood.dashboard.views.monday.monday_pairs import second_days, unpaired
from latewood.dashboard.views.monday.monday_tests import CampDay, DoneOn

ARRIVED, ENDS = STAY.arrived_on, STAY.planned_until


def done(*days: date) -> list[DoneOn]:
    return [
        DoneOn(athlete_id="T1", stay_id=STAY.stay_id, camp_id="K", held_on=on, n_measures=3) for on in days
    ]


def plain(found: dict[str, str]) -> dict[str, str]:
    return {who: words.replace("\u00a0", " ").replace("\u202f", " ") for who, words in found.items()}


@pytest.mark.parametrize(
    ("days", "today", "said"),
    [
        ([0], 1, {"T1": "by 4 Jun"}),
        ([0], 0, {}),  # the day of the first test itself
        ([0], 3, {}),  # too late for a pair
        ([0, 1], 2, {}),  # has one
        ([], 1, {}),  # not tested yet: the calendar says so
    ],
)
def test_who_was_tested_once_on_arrival_is_named_while_a_second_day_still_makes_a_pair(
    days: list[int], today: int, said: dict[str, str]
) -> None:
    tested = done(*(ARRIVED + timedelta(days=n) for n in days))
    assert plain(second_days([STAY], tested, ARRIVED + timedelta(days=today), lookup())) == said


@pytest.mark.parametrize(
    ("before", "said"),
    [([30], {"T1": "two before 15 Aug"}), ([30, 3], {"T1": "one more before 15 Aug"}), ([30, 5, 3], {})],
)
def test_the_last_week_has_two_test_days(before: list[int], said: dict[str, str]) -> None:
    tested = done(*(ENDS - timedelta(days=n) for n in before))
    assert plain(second_days([STAY], tested, ENDS - timedelta(days=2), lookup())) == said
    assert second_days([STAY], tested, ENDS - timedelta(days=20), lookup()) == {}


def calendar(*days: date) -> list[CampDay]:
    return [CampDay(camp_id="K", on_date=on) for on in days]


def test_a_calendar_without_pairs_is_named_before_the_camp_starts_and_not_later() -> None:
    start, end = CAMP.starts_on, CAMP.ends_on
    single = calendar(start, start + timedelta(days=28), end)
    soon = start - timedelta(days=10)
    assert unpaired(single, [CAMP], soon).startswith(
        "Heath camp has no two test days in the first days and in the last week: two days near each other"
    )
    assert unpaired(single, [CAMP], start + timedelta(days=1)) == ""
    assert unpaired(single, [CAMP], start - timedelta(days=40)) == ""
    assert unpaired([], [CAMP], soon) == ""  # no calendar is said elsewhere
    paired = [*single, *calendar(start + timedelta(days=2), end - timedelta(days=3))]
    assert unpaired(paired, [CAMP], soon) == ""
    half = unpaired([*single, *calendar(start + timedelta(days=2))], [replace(CAMP, label="Oak camp")], soon)
    assert half.startswith("Oak camp has no two test days in the last week:")
