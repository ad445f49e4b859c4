"""What is set beside each other, how far it differs for sure, and who counts as similar."""

from dataclasses import replace
from datetime import date

import pytest
from made import ARLO, CLEO, ERROR, LATER, TREND, VALUE, lookup

from latewood.dashboard.reads.rows import BuildAt
from latewood.dashboard.views.compare.compare import (
    CLEAR,
    OPEN,
    compare_athletes,
    compare_days,
    compare_stays,
    first_pair,
)
from latewood.dashboard.views.compare.similar import bounds_words, similar_to
from latewood.pipeline.stats.change.difference import RangedValue, of_estimates, of_test_days
from latewood.pipeline.stats.change.reliability_formulas import minimal_change

DAYS = (VALUE.held_on, LATER.held_on)
NAMES = ("one", "two")
OWN = BuildAt(athlete_id="T1", stay_id="T1@K", on_date=date(2032, 8, 1), height_cm=180.0, mass_kg=75.0)
FEN = replace(ARLO, athlete_id="T2", display_name="Fen Siltwood", birth_date=date(2015, 9, 1))


def test_two_test_days_differ_by_the_published_minimal_change() -> None:
    """Weir 2005, J Strength Cond Res 19:231-240: 1.96 TE sqrt 2; a typical error of 1 gives 2.77."""
    made = of_test_days(80.0, 82.0, minimal_change(1.0))
    assert (round(made.low, 2), round(made.high, 2)) == (-0.77, 4.77)
    assert made.may_be_zero


def test_the_difference_of_two_estimates_is_that_of_normal_ones() -> None:
    """For symmetric intervals the MOVER is the usual root of the sum of squares: 3, 4 give 5."""
    made = of_estimates(RangedValue(value=1, low=-2, high=4), RangedValue(value=7, low=3, high=11))
    assert made == RangedValue(value=6, low=1, high=11)
    assert not made.may_be_zero


def test_two_days_are_set_side_by_side_in_equal_conditions_only() -> None:
    other = replace(LATER, own_line="delivery=machine; bat=metal", value=40.0)
    sprint = replace(VALUE, measure="sprint_60yd", line="", own_line="")
    made = compare_days([VALUE, LATER, other, sprint], DAYS, lookup())
    (row,) = made.rows
    assert row.first.replace("\u00a0", " ") == "122.4 km/h"
    assert row.difference.replace("\u00a0", " ") == "+5.0 km/h (0.0 to +10.1)"  # 1.4 m/s each way
    assert [text.split(":")[0] for text in made.apart] == [
        "Exit speed (delivery=machine; bat=metal)", "60-yard sprint",
    ]  # fmt: skip
    assert "measured in another way" in made.apart[0]
    assert "not tested there" in made.apart[1]


def test_a_difference_within_the_minimal_change_may_be_none() -> None:
    near, far = (replace(LATER, value=VALUE.value + by) for by in (1.39, 1.41))
    assert ERROR.minimal_change_one == 1.4
    assert compare_days([VALUE, near], DAYS, lookup()).rows[0].meaning == OPEN
    made = compare_days([VALUE, far], DAYS, lookup())
    assert made.rows[0].meaning == CLEAR
    assert made.answer.startswith("1 of 1 measure differ")


def test_without_a_known_error_nothing_is_set_side_by_side() -> None:
    made = compare_days([VALUE, LATER], DAYS, replace(lookup(), errors={}))
    assert made.rows == ()
    assert "is not known" in made.apart[0]
    assert made.answer.startswith("Nothing was measured in the same way")


def test_body_mass_is_never_compared() -> None:
    mass = [replace(one, measure="body_mass", line="", own_line="") for one in (VALUE, LATER)]
    assert first_pair(mass, lookup()) is None
    assert compare_athletes(mass, mass, NAMES, lookup()).rows == ()
    assert compare_athletes(mass, mass, NAMES, lookup()).apart == ()


def test_the_first_pair_is_of_the_latest_stay_and_shares_most() -> None:
    old = replace(VALUE, held_on=date(2031, 6, 2), stay_id="T1@J")
    assert first_pair([old, VALUE, LATER], lookup()) == DAYS
    assert first_pair([old, VALUE], lookup()) == (old.held_on, VALUE.held_on)
    assert first_pair([], lookup()) is None


def test_athletes_are_compared_by_the_latest_day_of_their_latest_stays() -> None:
    old = replace(VALUE, held_on=date(2031, 6, 2), stay_id="T1@J", line="other", own_line="other")
    made = compare_athletes([old, VALUE, LATER], [VALUE], NAMES, lookup())
    (row,) = made.rows
    assert "(11 Aug 2032)" in row.first
    assert "(2 Jun 2032)" in row.second
    assert made.apart == ()


def test_stays_are_set_side_by_side_at_equal_time() -> None:
    short = replace(TREND, rate_per_week=0.43, rate_low=0.35, rate_high=0.51)
    made = compare_stays([TREND], [short, replace(TREND, measure="sprint_60yd", line="")], NAMES, lookup())
    (row,) = made.rows
    assert row.first.replace("\u00a0", " ").startswith(
        "+1.9 km/h (+0.7 to +3.0); 5 test days"
    )  # 4 weeks of 0.13 m/s
    low, high = (4 * 3.6 * (0.30 + sign * (2 * 0.08**2) ** 0.5) for sign in (-1, 1))
    assert row.difference.replace("\u00a0", " ") == f"+4.3 km/h (+{low:.1f} to +{high:.1f})"
    assert made.apart == ("60-yard sprint: only for two; one: not tested there",)


@pytest.mark.parametrize(
    ("change", "known"),
    [
        ({}, True), ({"height_cm": 186.0}, False), ({"mass_kg": 69.0}, False), ({"mass_kg": 79.9}, True),
        ({"on_date": date(2034, 8, 1)}, False),
    ],
)  # fmt: skip
def test_similar_is_within_the_stated_bounds(change: dict, known: bool) -> None:
    full = replace(lookup(), athletes={"T1": ARLO, "T2": FEN, "T3": CLEO})
    other = replace(OWN, athlete_id="T2", stay_id="T2@K", **change)
    found = similar_to("T1", [OWN, other, replace(OWN, athlete_id="T3", stay_id="T3@K")], full)
    assert [one.name for one in found] == (["Fen Siltwood"] if known else [])


def test_why_names_no_mass_and_the_list_goes_by_name() -> None:
    many = {f"R{n}": replace(FEN, athlete_id=f"R{n}", display_name=name) for n, name in enumerate("CAB")}
    full = replace(lookup("us"), athletes={"T1": ARLO, **many})
    builds = [OWN, *(replace(OWN, athlete_id=f"R{n}", mass_kg=72.0 + n) for n in range(3))]
    found = similar_to("T1", builds, full)
    assert [one.name for one in found] == ["A", "B", "C"]
    assert found[0].why.startswith("male, baseball; ages 16.4 and 16.9 years; heights 5 ft 10.9 in and")
    assert found[0].why.endswith("body mass within 11 lb")
    assert "within 11 lb" in bounds_words("us")
    assert "within 5 kg" in bounds_words("metric")


def test_nobody_is_similar_to_whose_build_is_not_known() -> None:
    assert similar_to("T1", [replace(OWN, athlete_id="T2")], lookup()) == ()
    unknown = replace(ARLO, sex=None)
    other = replace(FEN, sex=None)
    full = replace(lookup(), athletes={"T1": unknown, "T2": other})
    assert similar_to("T1", [OWN, replace(OWN, athlete_id="T2")], full) == ()


def test_each_cell_is_read_without_its_heading() -> None:
    (cells,) = compare_days([VALUE, LATER], DAYS, lookup()).table()
    first, second = list(cells.values())[1:]
    assert ", then " in first
    assert second.startswith("difference +")
