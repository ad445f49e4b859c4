"""The mean of a group with Student's interval, against Student's own data and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from latewood.pipeline.stats.engine.group_means import group_mean

# Hours of sleep gained, second drug less first: Student 1908, Biometrika 6:1-25, as in R's data set `sleep`.
# R's t.test(extra ~ group, paired) prints mean 1.58 and the 95 % interval 0.7001142 to 2.4598858.
SLEEP = (1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4)


def test_students_sleep_data() -> None:
    result = group_mean(SLEEP)
    assert result is not None
    assert result.mean == pytest.approx(1.58, abs=1e-9)
    assert (result.low, result.high) == pytest.approx((0.7001142, 2.4598858), abs=1e-7)


def test_as_scipy_at_another_level() -> None:
    values = np.random.default_rng(3).normal(1.0, 2.0, 23)
    result = group_mean(list(values), 0.9)
    assert result is not None
    theirs = stats.ttest_1samp(values, 0.0).confidence_interval(0.9)
    assert (result.low, result.high) == pytest.approx((theirs.low, theirs.high), rel=1e-12)
