"""Six targets by four judges: Shrout, Fleiss 1979, Psychol Bull 86:420-428, tables 2 and 4."""

import numpy as np
import pytest

from latewood.pipeline.stats.change.reliability_formulas import intraclass, mean_squares

RATINGS = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]])


def test_mean_squares():
    m = mean_squares(RATINGS)
    assert (m.subjects, m.trials, m.error, m.within) == pytest.approx(
        (11.24167, 32.48611, 1.01944, 6.26389), abs=1e-5
    )


def test_the_six_coefficients():
    c = intraclass(RATINGS)
    result = (
        c.one_way,
        c.two_way_random,
        c.two_way_fixed,
        c.mean_one_way,
        c.mean_two_way_random,
        c.mean_two_way_fixed,
    )
    # printed to two digits; the exact values were also given by psych 2.2.9 in R
    assert [round(v, 2) for v in result] == [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]
    exact = (0.1657418, 0.2897638, 0.7148407, 0.4427971, 0.6200505, 0.9093155)
    assert result == pytest.approx(exact, abs=1e-7)
