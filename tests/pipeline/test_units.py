"""Units: exact factors, spellings in files, lengths in feet and inches, what each system shows."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from latewood.pipeline.catalogue.units import (
    UNITS,
    convert,
    display_decimals,
    display_unit,
    find_unit,
    linear,
    parse_length,
)
from latewood.pipeline.errors import CatalogueError

# International yard and pound agreement of 1959, as in NIST SP 811 (2008) appendix B.8: exact.
EXACT = [
    ("lb", "kg", "0.45359237"),
    ("oz", "kg", "0.028349523125"),
    ("in", "cm", "2.54"),
    ("ft", "m", "0.3048"),
    ("yd", "m", "0.9144"),
    ("mph", "m/s", "0.44704"),
    ("ft/s", "m/s", "0.3048"),
    ("mph", "km/h", "1.609344"),
    ("ms", "s", "0.001"),
    ("min", "s", "60"),
]


@pytest.mark.parametrize(("source", "target", "factor"), EXACT)
def test_factors_are_the_exact_ones(source: str, target: str, factor: str) -> None:
    assert UNITS[source].factor / UNITS[target].factor == Fraction(factor)
    assert linear(source, target) == float(factor)


# Worked from the exact factors above by hand: 90 x 0.44704, 60 x 0.9144, 180 x 0.45359237, 72 x 2.54;
# the last two are 1 / 0.44704 and 1 / 0.45359237 to 14 figures.
@pytest.mark.parametrize(
    ("value", "source", "target", "expected"),
    [
        (90, "mph", "m/s", 40.2336),
        (60, "yd", "m", 54.864),
        (30, "yd", "m", 27.432),
        (180, "lb", "kg", 81.6466266),
        (72, "in", "cm", 182.88),
        (1, "m/s", "mph", 2.2369362920544),
        (1, "kg", "lb", 2.2046226218488),
        (1, "rad/s", "deg/s", 180 / math.pi),
        (100, "rpm", "deg/s", 600),
    ],
)
def test_converted_values(value: float, source: str, target: str, expected: float) -> None:
    assert convert(value, source, target) == pytest.approx(expected, rel=1e-13)


def test_mean_speed_of_sixty_yards_in_seven_seconds() -> None:
    assert convert(convert(60, "yd", "m") / 7.00, "m/s", "mph") == pytest.approx(17.5325, abs=5e-5)


@pytest.mark.parametrize(
    ("text", "symbol"),
    [
        ("lbs", "lb"), ("LB", "lb"), ("Lbs.", "lb"), ("Pounds", "lb"), ("KG", "kg"), ("kgs", "kg"),
        ("km/h", "km/h"), ("KPH", "km/h"), ("km / h", "km/h"), ("MPH", "mph"), ("m.p.h.", "mph"),
        ("(mph)", "mph"),
        ("M/S", "m/s"), ("m·s⁻¹", "m/s"), ("ms", "ms"), ("sec", "s"), ("Seconds", "s"), ('"', "in"),
        ("”", "in"),
        ("''", "in"), ("′", "ft"), ("in.", "in"), ("°/s", "deg/s"), ("dps", "deg/s"), ("deg / sec", "deg/s"),
        ("rad/s", "rad/s"), ("Percent", "%"), ("reps", "1"), ("cm", "cm"), ("\u00a0cm ", "cm"),
    ],
)  # fmt: skip
def test_spellings_are_found(text: str, symbol: str) -> None:
    result = find_unit(text)
    assert result is not None
    assert result.symbol == symbol


@pytest.mark.parametrize("text", ["", " ", "furlong", "kgm", "mph2", "N"])
def test_unknown_spellings_are_not_guessed(text: str) -> None:
    assert find_unit(text) is None


def test_no_spelling_belongs_to_two_units() -> None:
    for unit in UNITS.values():
        for spelling in (unit.symbol, *unit.spellings):
            assert find_unit(spelling) is unit, spelling


def test_crossing_quantities_is_refused() -> None:
    with pytest.raises(
        CatalogueError, match=r"cannot convert kg \(mass\) to mph \(speed\); accepted: m/s, km/h"
    ):
        convert(80, "kg", "mph")


def test_an_unknown_unit_is_named_with_what_is_accepted() -> None:
    with pytest.raises(CatalogueError, match=r"unknown \(got 'stone'; accepted: kg, g, lb"):
        linear("stone", "kg")


@pytest.mark.parametrize(
    ("canonical", "us", "metric"),
    [("kg", "lb", "kg"), ("cm", "in", "cm"), ("m", "ft", "m"), ("m/s", "mph", "km/h"), ("s", "s", "s"),
     ("deg/s", "deg/s", "deg/s"), ("rating", "rating", "rating")],
)  # fmt: skip
def test_shown_unit(canonical: str, us: str, metric: str) -> None:
    assert display_unit(canonical, "us") == us
    assert display_unit(canonical, "metric") == metric


def test_an_unknown_system_is_refused() -> None:
    with pytest.raises(
        CatalogueError, match=r"unit system: unknown \(got 'imperial'; accepted: us, metric\)"
    ):
        display_unit("kg", "imperial")


@pytest.mark.parametrize(
    ("step", "unit", "shown", "decimals"),
    [(0.1, "kg", "lb", 1), (0.1, "cm", "in", 1), (1, "cm", "in", 0), (2.5, "kg", "lb", 0),
     (0.05, "m", "ft", 1),
     (0.01, "m", "cm", 0), (0.01, "s", "ms", 0), (10, "ms", "s", 2), (0.3, "kg", "kg", 3)],
)  # fmt: skip
def test_decimals_follow_the_instrument(step: float, unit: str, shown: str, decimals: int) -> None:
    assert display_decimals(step, unit, 3, shown) == decimals


def test_decimals_across_quantities_are_refused() -> None:
    with pytest.raises(CatalogueError, match=r"cannot convert kg \(mass\) to cm \(length\)"):
        display_decimals(0.1, "kg", 1, "cm")


# Five feet eleven is 71 x 2.54 = 180.34 cm.
@pytest.mark.parametrize(
    ("text", "cm"),
    [
        ("5'11\"", 180.34), ("5’11”", 180.34), ("5-11", 180.34), ("5' 11", 180.34), ("5 ft 11 in", 180.34),
        ("5ft11", 180.34), ("5 FT. 11 IN.", 180.34), ("6'", 182.88), ("6 ft", 182.88), ("5'10 1/2\"", 179.07),
        ("5'10.5", 179.07), ("71 in", 180.34), ('71"', 180.34), ("180 cm", 180.0), ("1.80 m", 180.0),
        ("1803 mm", 180.3), ("5'0", 152.4),
    ],
)  # fmt: skip
def test_lengths_in_words_of_the_trade(text: str, cm: float) -> None:
    assert parse_length(text) == pytest.approx(cm, abs=1e-9)


@pytest.mark.parametrize(
    "text", ["", "180", "5.11", "5-12", "5'13\"", "5-", "-11", "80 kg", "tall", "5-11-2", "5'11/3"]
)
def test_lengths_that_could_mean_something_else_are_not_read(text: str) -> None:
    assert parse_length(text) is None
