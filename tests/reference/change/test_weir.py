"""Reliability of eight subjects in two trials: Weir 2005, J Strength Cond Res 19(1):231-240, sets A and B.

Set A as printed on p. 236; set B has the same differences and less spread between subjects.
"""

import numpy as np
import pytest

from latewood.pipeline.stats.change.reliability_formulas import (
    intraclass,
    log_typical_error_percent,
    mean_squares,
    minimal_change,
    smallest_worthwhile_change,
    typical_error,
)

A1 = np.array([146, 148, 170, 90, 157, 156, 176, 205])
A2 = np.array([140, 152, 152, 99, 145, 153, 167, 218])
B1 = np.array([166, 168, 160, 150, 147, 146, 156, 155])
B2 = np.array([160, 172, 142, 159, 135, 143, 147, 168])


def test_mean_squares_of_set_a():
    m = mean_squares(np.column_stack([A1, A2]))
    assert (m.subjects, m.trials, m.error, m.within) == pytest.approx((2098.53571, 30.25, 57.10714, 53.75))
    assert m.trials / m.error == pytest.approx(0.52971, abs=1e-5)


def test_coefficients_of_set_a():
    c = intraclass(np.column_stack([A1, A2]))
    one = (c.one_way, c.two_way_random, c.two_way_fixed)
    mean = (c.mean_one_way, c.mean_two_way_random, c.mean_two_way_fixed)
    assert one == pytest.approx((0.95005, 0.94998, 0.94702), abs=1e-5)
    assert mean == pytest.approx((0.97439, 0.97435, 0.97279), abs=1e-5)


def test_published_standard_errors_of_set_a():
    scores = np.column_stack([A1, A2])
    icc, spread = intraclass(scores).two_way_fixed, scores.std(ddof=1)
    assert typical_error(A1, A2) == pytest.approx(7.6, abs=0.05)  # SEM
    assert spread * np.sqrt(1.0 - icc**2) == pytest.approx(10.2, abs=0.05)  # SEP
    assert spread * np.sqrt(icc * (1.0 - icc)) == pytest.approx(7.1, abs=0.05)  # SEE


def test_error_and_change_of_set_a():
    error = typical_error(A1, A2)
    assert error == pytest.approx(7.556927, abs=1e-6)
    assert minimal_change(error) == pytest.approx(20.946732, abs=1e-5)
    assert log_typical_error_percent(A1, A2) == pytest.approx(5.16163, abs=1e-5)
    assert smallest_worthwhile_change(A1.std(ddof=1)) == pytest.approx(6.554388, abs=1e-6)
    assert smallest_worthwhile_change(5.0, 3.0) == pytest.approx(0.8)


def test_set_b_has_the_same_noise_and_a_far_lower_coefficient():
    c = intraclass(np.column_stack([B1, B2]))
    assert typical_error(B1, B2) == pytest.approx(typical_error(A1, A2), abs=1e-12)
    assert mean_squares(np.column_stack([B1, B2])).subjects == pytest.approx(189.96429, abs=1e-5)
    one = (c.one_way, c.two_way_random, c.two_way_fixed)
    assert one == pytest.approx((0.55891, 0.55275, 0.53773), abs=1e-5)


def test_a_shift_between_trials_and_a_change_of_unit_do_not_matter():
    assert typical_error(A1, A2 + 25.0) == pytest.approx(typical_error(A1, A2))
    assert log_typical_error_percent(0.4536 * A1, 0.4536 * A2) == pytest.approx(
        log_typical_error_percent(A1, A2)
    )


def test_three_sessions_of_baseline_make_smaller_changes_visible():
    assert minimal_change(1.0, 3) == pytest.approx(1.96 * np.sqrt(4.0 / 3.0))


def test_two_pairs_are_too_few():
    with pytest.raises(ValueError, match="too few pairs"):
        typical_error([1.0, 2.0], [1.5, 2.5])
