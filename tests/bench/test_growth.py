"""Growth of time between sizes, against power laws whose exponent is known."""

from __future__ import annotations

import pytest

from tests.bench.growth import exponents

SIZES = (10_000, 100_000, 999_836)


@pytest.mark.parametrize("power", [0.0, 0.5, 1.0, 2.0])
def test_a_power_law_gives_its_own_exponent(power: float) -> None:
    assert exponents(SIZES, [0.003 * n**power for n in SIZES]) == pytest.approx((power, power))


def test_sizes_that_fall_and_seconds_of_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="rise"):
        exponents((10, 5), (1.0, 2.0))
    with pytest.raises(ValueError, match="above 0"):
        exponents((5, 10), (0.0, 2.0))
