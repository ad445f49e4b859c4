"""Average run lengths of control charts, and what autocorrelated noise does to them.

CUSUM, k = 1/2: textbook values 168, 465, 8.38, 10.4 (Montgomery, Introduction to Statistical Quality Control),
more digits from the R package spc 0.6.7. EWMA: the four schemes of Lucas, Saccucci 1990, Technometrics 32:1-12
with in-control run length 500 and one more; digits from the same package. Shewhart: 1 / tail probability.
"""

import numpy as np
import pytest

from latewood.pipeline.stats.plans.noise import autoregressive
from tests.bench.run_lengths import cusum_run_length, ewma_run_length, ewma_share_alarmed, shewhart_run_length

CUSUM_SHIFTS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0)
CUSUM = {
    4.0: (167.684, 74.224, 26.630, 13.285, 8.383, 4.747, 3.343, 2.620, 2.194),
    5.0: (465.444, 139.494, 37.996, 17.048, 10.376, 5.747, 4.009, 3.114, 2.573),
}
EWMA_SHIFTS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0)
EWMA = {
    (0.40, 3.054): (499.95, 223.73, 71.20, 28.42, 14.26, 5.87, 3.52, 2.54, 2.02, 1.44),
    (0.25, 2.998): (499.84, 170.30, 48.29, 20.11, 11.14, 5.46, 3.61, 2.74, 2.26, 1.73),
    (0.20, 2.962): (499.74, 150.22, 41.76, 18.15, 10.54, 5.50, 3.74, 2.88, 2.38, 1.86),
    (0.10, 2.814): (499.58, 106.32, 31.30, 15.85, 10.33, 6.08, 4.36, 3.44, 2.87, 2.19),
    (0.05, 2.615): (499.93, 84.01, 28.76, 16.37, 11.38, 7.11, 5.22, 4.17, 3.50, 2.69),
}
SHEWHART = {0.0: 370.398, 0.5: 155.224, 1.0: 43.895, 1.5: 14.968, 2.0: 6.303, 3.0: 2.000}


@pytest.mark.parametrize("limit", CUSUM)
def test_cusum_run_lengths(limit):
    result = [cusum_run_length(allowance=0.5, limit=limit, shift=s) for s in CUSUM_SHIFTS]
    assert result == pytest.approx(CUSUM[limit], abs=6e-4)


def test_cusum_with_the_run_length_of_three_sigma_limits():
    assert cusum_run_length(allowance=0.5, limit=4.7749) == pytest.approx(370.40, abs=0.03)  # limit rounded


@pytest.mark.parametrize(("weight", "width"), EWMA)
def test_ewma_run_lengths(weight, width):
    result = [ewma_run_length(weight=weight, width=width, shift=s) for s in EWMA_SHIFTS]
    assert result == pytest.approx(EWMA[weight, width], abs=6e-3)


@pytest.mark.parametrize("shift", SHEWHART)
def test_shewhart_run_lengths(shift):
    assert shewhart_run_length(limit=3.0, shift=shift) == pytest.approx(SHEWHART[shift], abs=6e-4)


def test_an_ewma_of_the_newest_reading_alone_is_a_shewhart_chart():
    # weight 1: no memory, and alarms within n looks follow from independent readings
    assert ewma_run_length(weight=1.0, width=3.0) == pytest.approx(370.398, abs=6e-4)
    once = 1.0 / 370.398
    assert ewma_share_alarmed(weight=1.0, width=3.0, looks=20) == pytest.approx(
        1 - (1 - once) ** 20, rel=1e-5
    )


def test_shares_alarmed_add_up_to_the_run_length():
    shares = [ewma_share_alarmed(weight=0.2, width=2.962, looks=n, shift=1.0) for n in range(1, 200)]
    assert 1.0 + sum(1.0 - s for s in shares) == pytest.approx(10.54, abs=6e-3)


# Individuals chart, limits 2.66 times the mean moving range, on a series that stays where it is: alarms once in
# so many readings. The moving range of AR(1) noise is short by the root of 1 - phi (our own simulation, no
# publication); without that 1 / 370.4.
@pytest.mark.parametrize(("persistence", "once_in"), [(0.0, 370.4), (0.3, 82.82), (0.5, 29.50), (0.7, 9.97)])
def test_noise_that_hangs_together_ruins_an_ordinary_chart(persistence, once_in):
    noise = autoregressive(np.random.default_rng(8841), (4000, 200), persistence, 0.55)
    limit = 2.66 * np.abs(np.diff(noise, axis=0)).mean()
    byautoregressive = (np.abs(noise) > limit).mean(axis=0)
    error = byautoregressive.std(ddof=1) / np.sqrt(byautoregressive.size)
    assert byautoregressive.mean() == pytest.approx(1.0 / once_in, abs=4.0 * error)
    formula = shewhart_run_length(limit=3.0 * np.sqrt(1.0 - persistence))
    assert formula == pytest.approx(once_in, rel=2e-3)
