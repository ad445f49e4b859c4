"""Where a fitted line starts and ends: against one least-squares problem over all stays, solved by numpy."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from latewood.pipeline.stats.engine.courses import INTAKE_SD
from latewood.pipeline.stats.engine.own_lines import (
    PRIORS,
    _log_chi2,
    _log_f,
    fit_own_lines,
    fit_pieces,
    intake_effect,
)
from latewood.pipeline.stats.engine.session_lines import stays_tested_twice

WEEKS = np.array([0.1, 2.0, 4.5, 9.0])
TWICE = np.array([0.1, 0.4, 4.5, 9.0])  # the second test two days after the first
STAYS = 12


def camp(rng: np.random.Generator, weeks: np.ndarray = WEEKS) -> pd.DataFrame:
    rows = []
    for stay in range(STAYS):
        level, slope = 30.0 + rng.normal(0, 3), rng.normal(0.2, 0.3)
        for week in weeks:
            first = bool(week == weeks[0])
            value = level + slope * week - 1.5 * first + rng.normal(0, 0.4)
            rows.append((f"s{stay:02d}", week, value, first, 0.0))
    return pd.DataFrame(rows, columns=["stay_id", "t", "value", "first", "shift_se"])


@pytest.mark.parametrize("seed", [3, 4, 5])
@pytest.mark.parametrize("weeks", [WEEKS, TWICE], ids=["once", "twice"])
def test_start_and_end_are_those_of_least_squares_with_one_intake_effect(
    seed: int, weeks: np.ndarray
) -> None:
    frame = camp(np.random.default_rng(seed), weeks)
    lines = fit_own_lines(frame, intake_effect(fit_pieces(frame)))
    codes = np.repeat(np.arange(STAYS), len(weeks))
    own = np.eye(STAYS)[codes]
    design = np.hstack([own, own * frame[["t"]].to_numpy(), frame[["first"]].to_numpy(dtype=float)])
    value = frame["value"].to_numpy()
    if weeks is WEEKS:  # nobody was tested twice: a prior as one row of data, Theil and Goldberger 1961
        design = np.vstack([design, np.append(np.zeros(2 * STAYS), 1.0 / INTAKE_SD)])
        value = np.append(value, 0.0)
    solved = np.linalg.lstsq(design, value, rcond=None)[0]
    levels, slopes, effect = solved[:STAYS], solved[STAYS:-1], solved[-1]
    assert effect < (-0.5 if weeks is TWICE else -0.3)  # planted -1.5; the prior takes a part
    assert lines.at_start == pytest.approx(levels + slopes * weeks[0])
    assert lines.at_start + lines.slope * lines.span == pytest.approx(levels + slopes * weeks[-1])


def test_tested_twice_counts_stays_with_a_second_test_within_three_days() -> None:
    assert stays_tested_twice(camp(np.random.default_rng(1))) == 0
    assert stays_tested_twice(camp(np.random.default_rng(1), TWICE)) == STAYS
    assert stays_tested_twice(camp(np.random.default_rng(1), TWICE).assign(first=False)) == 0
    assert stays_tested_twice(camp(np.random.default_rng(1), np.array([0.0, 3.0 / 7, 9.0]))) == STAYS
    assert stays_tested_twice(camp(np.random.default_rng(1), np.array([0.0, 4.0 / 7, 9.0]))) == 0


def test_without_an_intake_effect_each_line_is_its_own_least_squares_line() -> None:
    frame = camp(np.random.default_rng(6))
    frame["first"] = False
    lines = fit_own_lines(frame, None)
    for at, (_, rows) in enumerate(frame.groupby("stay_id", sort=False)):
        slope, level = np.polyfit(rows["t"], rows["value"], 1)
        assert lines.at_start[at] == pytest.approx(level + slope * WEEKS[0])


def test_densities_of_the_prior_are_those_of_scipy() -> None:
    ratio, own = np.array([[1e-12], [0.2], [1.0], [7.0]]), np.array([[1.0], [2.0], [3.0], [9.0]])
    assert np.array_equal(_log_f(ratio, own, PRIORS), stats.f.logpdf(ratio, own, PRIORS))
    assert np.array_equal(_log_chi2(ratio, own), stats.chi2.logpdf(ratio, own))
