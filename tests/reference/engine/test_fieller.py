"""The interval of a ratio against its definition, the textbook form with g, and simulation.

Textbook form, from memory: with g = (z s_b / b)^2 and independent errors, limits are
[r ± (z / b) sqrt(s_a^2 + r^2 s_b^2 - g s_a^2)] / (1 - g) (Finney 1978, Statistical Method in Biological Assay).
"""

import numpy as np
import pytest

from latewood.pipeline.stats.engine.fieller import fieller


@pytest.mark.parametrize("both", [0.0, 0.0004, -0.0006])
def test_limits_are_where_the_numerator_is_just_told_from_ratio_times_denominator(both):
    result = fieller(0.15, 0.25, (0.0012, both, 0.0021), 2.05)
    for r in (result.low, result.high):
        error = np.sqrt(0.0012 - 2.0 * r * both + r * r * 0.0021)
        assert abs(0.15 - r * 0.25) / error == pytest.approx(2.05, rel=1e-9)
    assert result.ratio == pytest.approx(0.6)
    assert result.low < result.ratio < result.high


def test_the_textbook_form_for_independent_errors():
    a, b, sa, sb, z = 3.1, 1.4, 0.6, 0.25, 1.96
    result, r, g = fieller(a, b, (sa**2, 0.0, sb**2), z), a / b, (z * sb / b) ** 2
    half = z / b * np.sqrt(sa**2 + r * r * sb**2 - g * sa**2)
    assert (result.low, result.high) == pytest.approx(((r - half) / (1 - g), (r + half) / (1 - g)), rel=1e-12)


def test_a_denominator_not_told_from_zero_gives_no_interval():
    result = fieller(1.0, 0.3, (0.04, 0.0, 0.04), 1.96)
    assert (result.low, result.high) == (None, None)
    with pytest.raises(ZeroDivisionError):
        fieller(1.0, 0.0, (0.04, 0.0, 0.04), 1.96)


def test_it_holds_the_ratio_exactly_where_the_data_do_not_speak_against_it():
    """Where the interval is not given, the set of values is open and may leave out the truth: it is not counted."""
    rng, n = np.random.default_rng(8_220), 4000
    above, below = rng.normal(1.2, 0.1, n), rng.normal(0.6, 0.15, n)
    likely = np.abs(above - 2.0 * below) <= 1.96 * np.sqrt(0.01 + 4.0 * 0.0225)
    assert np.mean(likely) == pytest.approx(0.95, abs=0.011)  # three Monte-Carlo errors
    result = [fieller(a, b, (0.01, 0.0, 0.0225), 1.96) for a, b in zip(above, below, strict=True)]
    given = np.array([one.low is not None for one in result])
    held = np.array([one.low <= 2.0 <= one.high for one in result if one.low is not None])
    assert (held == likely[given]).all()
    assert np.mean(given) == pytest.approx(0.979, abs=0.007)  # the chance that a normal of mean 4 passes 1.96
    error = np.sqrt(0.01 + (above / below) ** 2 * 0.0225) / np.abs(below)
    low, high = (above / below + side * 1.96 * error for side in (-1.0, 1.0))
    assert np.mean(high < 2.0) > 2.0 * np.mean(low > 2.0)  # the plain interval errs to one side
