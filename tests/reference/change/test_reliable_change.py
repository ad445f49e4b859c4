"""The reliable change index: Jacobson, Truax 1991, J Consult Clin Psychol 59(1):12-19.

The first case is the worked one of the paper (SD 7.5, reliability .80, 32.5 to 47.5), the second follows
from the formula.
"""

import pytest

from latewood.pipeline.stats.change.reliability_formulas import reliable_change


@pytest.mark.parametrize(
    ("before", "after", "spread", "reliability", "index"),
    [(32.5, 47.5, 7.5, 0.80, 3.162278), (80.0, 83.0, 5.0, 0.90, 1.341641)],
)
def test_index(before, after, spread, reliability, index):
    assert reliable_change(before, after, spread, reliability) == pytest.approx(index, abs=1e-6)


def test_the_first_change_is_reliable_and_the_second_is_not():
    assert reliable_change(32.5, 47.5, 7.5, 0.80) > 1.96 > reliable_change(80.0, 83.0, 5.0, 0.90)


def test_a_fall_has_the_opposite_sign():
    assert reliable_change(47.5, 32.5, 7.5, 0.80) == pytest.approx(-3.162278, abs=1e-6)
