"""Unit factors: NIST Special Publication 811 (2008), appendix B.8, the factors printed there in bold as exact.

Also the yard and pound agreement of 1959. Worked lengths, loads and speeds stand in tests/pipeline/test_units.py.
"""

from fractions import Fraction

import pytest

from latewood.pipeline.catalogue.units import UNITS, convert

SP_811 = [
    ("ft", "m", "3.048E-01"),
    ("in", "cm", "2.54"),
    ("yd", "m", "9.144E-01"),
    ("lb", "kg", "4.5359237E-01"),
    ("oz", "g", "28.349523125"),
    ("mph", "m/s", "4.4704E-01"),
    ("mph", "km/h", "1.609344"),
    ("ft/s", "m/s", "3.048E-01"),
    ("min", "s", "6.0E+01"),
]


@pytest.mark.parametrize(("source", "target", "factor"), SP_811)
def test_exact_factors(source, target, factor):
    assert UNITS[source].factor / UNITS[target].factor == Fraction(factor)


@pytest.mark.parametrize(
    ("source", "target", "printed"),
    [
        ("km/h", "m/s", 2.777778e-01),
        ("rad", "deg", 1 / 1.745329e-02),
        ("rpm", "rad/s", 1.047198e-01),
    ],
)
def test_factors_printed_to_seven_digits(source, target, printed):
    assert convert(1.0, source, target) == pytest.approx(printed, rel=5e-7)


def test_mean_speed_of_sixty_yards_in_seven_seconds():
    assert convert(convert(60.0, "yd", "m") / 7.0, "m/s", "mph") == pytest.approx(17.5325, abs=5e-5)
