"""The interval of a ratio against its definition, the textbook form with g, and simulation.

Textbook form, from memory: with g = (z s_b / b)^2 and independent errors, limits are
[r ± (z / b) sqrt(s_a^2 + r^2 s_b^2 - g s_a^2)] / (1 - g) (Finney 1978, Statistical Method in Biological Assay).
"""

import numpy as np
import pytest

from pipeline.stats.fieller import fieller


@pytest.mark.parametrize("both", [0.0, 0.0004, -0.0006])
def test_limits_are_where_the_numerator_is_just_told_from_ratio_times_denominator(both):
    found = fieller(0.15, 0.25, (0.0012, both, 0.0021), 2.05)
    for r in (found.low, found.high):
        error = np.sqrt(0.0012 - 2.0 * r * both + r * r * 0.0021)
        assert abs(0.15 - r * 0.25) / error == pytest.approx(2.05, rel=1e-9)
    assert found.low < found.ratio == pytest.approx(0.6) < found.high


def test_the_textbook_form_for_independent_errors():
    a, b, sa, sb, z = 3.1, 1.4, 0.6, 0.25, 1.96
    found, r, g = fieller(a, b, (sa**2, 0.0, sb**2), z), a / b, (z * sb / b) ** 2
    half = z / b * np.sqrt(sa**2 + r * r * sb**2 - g * sa**2)
    assert (found.low, found.high) == pytest.approx(((r - half) / (1 - g), (r + half) / (1 - g)), rel=1e-12)


def test_a_denominator_not_told_from_zero_gives_no_interval():
    found = fieller(1.0, 0.3, (0.04, 0.0, 0.04), 1.96)
    assert (found.low, found.high) == (None, None)
    with pytest.raises(ZeroDivisionError):
        fieller(1.0, 0.0, (0.04, 0.0, 0.04), 1.96)


def test_it_holds_the_ratio_where_the_plain_interval_does_not():
    rng, n = np.random.default_rng(8_220), 4000
    above, below = rng.normal(1.2, 0.1, n), rng.normal(0.6, 0.15, n)
    held, plain = [], []
    for a, b in zip(above, below, strict=True):
        found = fieller(a, b, (0.01, 0.0, 0.0225), 1.96)
        held.append(found.low is None or found.low <= 2.0 <= found.high)
        error = np.sqrt(0.01 + (a / b) ** 2 * 0.0225) / abs(b)
        plain.append(abs(a / b - 2.0) <= 1.96 * error)
    assert np.mean(held) == pytest.approx(0.95, abs=0.011)  # three Monte-Carlo errors
    assert np.mean(plain) < 0.938 or np.mean(plain) > 0.962, np.mean(plain)
