"""An athlete by what is typed of their name."""

from __future__ import annotations

from dataclasses import replace

import pytest
from made import ARLO, lookup

from latewood.dashboard.views.find import by_name, people

NAMES = {"A1": "Renée Osierthicket", "A2": "Rowan Thistlewick", "A3": "Rowan T. Thistlewick", "A4": "Ó Heath"}
ATHLETES = [replace(ARLO, athlete_id=key, display_name=name) for key, name in NAMES.items()]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("renee", ("A1",)),
        ("OSIER ren", ("A1",)),
        ("thistlewick", ("A3", "A2")),
        ("rowan thistlewick", ("A2",)),  # the whole name: the other has an initial
        ("a4", ("A4",)),
        ("o heath", ("A4",)),
        ("nobody", ()),
        ("  ", ()),
    ],
)
def test_a_name_is_known_by_any_part_of_it_without_accents(typed, expected) -> None:
    assert by_name(ATHLETES, typed) == expected


def test_two_of_one_name_are_kept_apart_by_what_stands_beside() -> None:
    all_of_them = replace(lookup(), athletes={one.athlete_id: one for one in ATHLETES})
    assert [one.name for one in people("thistlewick", all_of_them)] == [
        "Rowan T. Thistlewick",
        "Rowan Thistlewick",
    ]
    assert all(ARLO.sport in one.beside for one in people("thistlewick", all_of_them))
