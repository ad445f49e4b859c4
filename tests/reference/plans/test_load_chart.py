"""The formulas for one repetition beside the training-load chart of the National Strength and Conditioning
Association (Essentials of Strength Training and Conditioning; as reprinted on public coaching pages).

The chart and the formulas are independent; they are not meant to be equal.
"""

import numpy as np
import pytest

from latewood.pipeline.stats.links.strength import DEFAULT_FORMULA, one_rep_max

CHART = {
    1: 100,
    2: 95,
    3: 93,
    4: 90,
    5: 87,
    6: 85,
    7: 83,
    8: 80,
    9: 77,
    10: 75,
}  # repetitions: % of the maximum


def test_the_worked_case_of_the_chart():
    # 135 lb for ten repetitions: 135 / 0.75 = 180 lb
    assert float(one_rep_max(DEFAULT_FORMULA, 135.0, 10)) == pytest.approx(180.0, rel=1e-12)
    assert float(one_rep_max("brzycki", 135.0, 10)) == pytest.approx(180.0, rel=1e-12)


@pytest.mark.parametrize("name", ["epley", "brzycki"])
def test_percentages_up_to_ten_repetitions_are_within_three_points_of_the_chart(name):
    reps = np.array(list(CHART))
    percent = 100.0 * 100.0 / one_rep_max(name, 100.0, reps)
    assert np.abs(percent - np.array(list(CHART.values()))).max() < 3.0
