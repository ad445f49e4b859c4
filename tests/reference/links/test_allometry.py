"""Strength per body size against values computed by hand from the published exponent."""

import pytest

from latewood.pipeline.stats.links.strength import per_body_size


# Exponent 2/3 for lifted loads: Jaric 2002, Sports Med 32(10):615-631; Markovic & Jaric 2004,
# Eur J Appl Physiol 92:139-149. S / m^(2/3) by hand, four decimals.
@pytest.mark.parametrize(
    ("strength", "mass", "expected"),
    [(90.0, 60.0, 5.8723), (120.0, 80.0, 6.4633), (150.0, 100.0, 6.9624), (100.0, 70.0, 5.8876)],
)
def test_two_thirds_power(strength, mass, expected):
    assert float(per_body_size(strength, mass)) == pytest.approx(expected, abs=6e-5)


def test_rounded_exponent_is_a_different_number():
    # The same papers round the exponent to 0.67: 100 kg at 70 kg then reads 5.80476.
    assert float(per_body_size(100.0, 70.0, 0.67)) == pytest.approx(5.80476, abs=6e-6)


def test_equal_simple_ratios_are_not_equal_strength():
    # All three lift one and a half times their body mass; by the 2/3 power the heavier is stronger.
    small, middle, large = per_body_size([90.0, 120.0, 150.0], [60.0, 80.0, 100.0])
    assert small < middle < large
