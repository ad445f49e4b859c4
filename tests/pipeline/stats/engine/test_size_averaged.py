"""The size of one change is averaged over the variances of a camp until it is large enough to pin them down."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.engine.courses import STRAIGHT
from latewood.pipeline.stats.engine.line_models import fit_line
from latewood.pipeline.stats.engine.mixed_integrated import IntegratedFit


def camp(n: int) -> pd.DataFrame:
    """Comparable sessions of n stays, six each, with slopes of their own."""
    rng = np.random.default_rng((915_060, n))
    stay, weeks = np.repeat(np.arange(n), 6), np.tile(np.arange(6.0) * 2.0, n)
    slopes = rng.normal(0.3, 0.2, n)
    return pd.DataFrame({
        "stay_id": [f"S{k:03d}" for k in stay], "t": weeks, "first": weeks == 0.0, "shift_se": 0.0, "own_line": "",
        "value": rng.normal(75.0, 4.0, n)[stay] + slopes[stay] * weeks + rng.normal(0.0, 1.5, 6 * n),
    })  # fmt: skip


@pytest.mark.parametrize(("n", "averaged"), [(40, True), (100, False)])
def test_sizes_are_averaged_over_the_variances_in_a_camp_of_forty_and_not_in_one_of_a_hundred(n, averaged):
    model = fit_line(camp(n), STRAIGHT, for_size=True)
    assert all(isinstance(one.fit, IntegratedFit) == averaged for one in model.candidates)
