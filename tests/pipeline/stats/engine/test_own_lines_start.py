"""Where a fitted line starts and ends: against one least-squares problem over all stays, solved by numpy."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.engine.own_lines import fit_own_lines, fit_pieces, intake_effect

WEEKS = np.array([0.1, 2.0, 4.5, 9.0])
STAYS = 12


def camp(rng: np.random.Generator) -> pd.DataFrame:
    rows = []
    for stay in range(STAYS):
        level, slope = 30.0 + rng.normal(0, 3), rng.normal(0.2, 0.3)
        for week in WEEKS:
            first = bool(week == WEEKS[0])
            value = level + slope * week - 1.5 * first + rng.normal(0, 0.4)
            rows.append((f"s{stay:02d}", week, value, first, 0.0))
    return pd.DataFrame(rows, columns=["stay_id", "t", "value", "first", "shift_se"])


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_start_and_end_are_those_of_least_squares_with_one_intake_effect(seed: int) -> None:
    frame = camp(np.random.default_rng(seed))
    lines = fit_own_lines(frame, intake_effect(fit_pieces(frame)))
    codes = np.repeat(np.arange(STAYS), len(WEEKS))
    own = np.eye(STAYS)[codes]
    design = np.hstack([own, own * frame[["t"]].to_numpy(), frame[["first"]].to_numpy(dtype=float)])
    solved = np.linalg.lstsq(design, frame["value"].to_numpy(), rcond=None)[0]
    levels, slopes, effect = solved[:STAYS], solved[STAYS:-1], solved[-1]
    assert effect < -0.5
    assert lines.at_start == pytest.approx(levels + slopes * WEEKS[0])
    assert lines.at_start + lines.slope * lines.span == pytest.approx(levels + slopes * WEEKS[-1])


def test_without_an_intake_effect_each_line_is_its_own_least_squares_line() -> None:
    frame = camp(np.random.default_rng(6))
    frame["first"] = False
    lines = fit_own_lines(frame, None)
    for at, (_, rows) in enumerate(frame.groupby("stay_id", sort=False)):
        slope, level = np.polyfit(rows["t"], rows["value"], 1)
        assert lines.at_start[at] == pytest.approx(level + slope * WEEKS[0])
