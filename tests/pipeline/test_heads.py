"""The measures that stand large on a sheet: as declared, by sport and first position."""

from __future__ import annotations

import pytest

from latewood.pipeline.catalogue.heads import FEWEST, MOST, head_table, heads_of
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.pages.record import may_be_shown

ALL = tuple(key for key, measure in load_catalogue().measures.items() if may_be_shown(measure))


@pytest.mark.parametrize(
    ("sport", "positions", "first"),
    [
        ("softball", "P/CF", "windmill_pitch_speed"), ("baseball", "RHP/C", "pitch_speed"),
        ("baseball", "LHP", "pitch_speed"), ("softball", "C, 3B", "pop_time"), ("baseball", "C", "pop_time"),
        ("baseball", "DH", "exit_speed"), ("softball", "", "exit_speed"), ("baseball", "1B/OF", "exit_speed"),
        ("baseball", "CF", "sprint_60yd"), ("softball", "LF", "home_to_first"), ("baseball", "SS", "exit_speed"),
        ("baseball", "??/C", "pop_time"),
    ],
)  # fmt: skip
def test_position_and_sport_say_what_stands_first(sport: str, positions: str, first: str) -> None:
    heads = heads_of(sport, positions, ALL)
    assert heads.measures[0] == first
    assert FEWEST <= len(heads.measures) <= MOST
    assert heads.source == "common practice, no source"


def test_every_declared_measure_may_stand_on_a_sheet_and_every_group_has_its_lists() -> None:
    table = head_table()
    groups = set(table.group_of.values())
    assert set(table.names) == groups
    for lists in table.lists.values():
        assert set(lists) == groups
        for measures in lists.values():
            assert set(measures) <= set(ALL)
            assert FEWEST <= len(measures) <= MOST


def test_what_is_not_measured_is_filled_up_and_nothing_is_made_up() -> None:
    assert heads_of("softball", "P", ("broad_jump", "exit_speed")).measures == ("exit_speed", "broad_jump")
    assert heads_of("", "P", ("broad_jump",)).measures == ("broad_jump",)
    assert heads_of("", "P", ()).chosen_for == "any sport"
    assert heads_of("softball", "P", ALL).chosen_for == "a pitcher in softball"
    assert heads_of("softball", "", ALL).chosen_for == "any position in softball"
