"""Trials laid over each other: against scipy, the standard library and a textbook's quantiles, and by simulation."""

from __future__ import annotations

import statistics

import numpy as np
import pytest
from scipy import interpolate
from scipy.stats import mstats

from latewood.pipeline.stats.movement.overlay import (
    Laid,
    gaps_of,
    middle_curve,
    on_common_grid,
    share_of_way,
    timing_of,
)

GRID = np.arange(-300.0, 101.0, 4.0)


def trial(rate: float, start: float, end: float, height: float, at: float) -> Laid:
    times = np.arange(start, end, 1000 / rate)
    return Laid(times=times, values=height * np.exp(-0.5 * ((times - at) / 45) ** 2))


TRIALS = [
    trial(1000, -400, 150, 640, -118), trial(250, -330, 120, 655, -121), trial(500, -280, 140, 690, -112),
    trial(200, -350, 60, 610, -125), trial(360, -301, 130, 702, -109),
]  # fmt: skip


def test_middle_and_range_are_those_of_scipy_at_every_moment() -> None:
    """Outside check: scipy's interp1d for the grid and mquantiles (alphap = betap = 1, Hyndman and Fan's 7)."""
    curve = middle_curve(TRIALS, GRID)
    assert curve is not None
    others = np.stack([
        interpolate.interp1d(t.times, t.values, bounds_error=False, fill_value=np.nan)(GRID) for t in TRIALS
    ])
    for at in range(len(GRID)):
        column = others[:, at][~np.isnan(others[:, at])]
        low, middle, high = mstats.mquantiles(column, [0.1, 0.5, 0.9], alphap=1, betap=1)
        assert (curve.low[at], curve.middle[at], curve.high[at]) == pytest.approx(
            (low, middle, high), rel=1e-12
        )


def test_range_of_a_worked_example() -> None:
    """Outside check: deciles of 1, 2, ..., 11 by the standard library (inclusive) are 2 and 10, the median 6."""
    flat = [Laid(times=np.array([0.0, 1.0]), values=np.full(2, float(v))) for v in range(1, 12)]
    curve = middle_curve(flat, [0.5])
    cuts = statistics.quantiles(range(1, 12), n=10, method="inclusive")
    assert curve is not None
    assert (curve.low[0], curve.middle[0], curve.high[0]) == (cuts[0], cuts[4], cuts[8]) == (2.0, 6.0, 10.0)


def test_rates_do_not_matter_on_a_straight_line() -> None:
    lines = [
        Laid(times=np.arange(0.0, 101.0, step), values=3 * np.arange(0.0, 101.0, step)) for step in (1, 4, 10)
    ]
    assert on_common_grid(lines, [2.5, 50, 97]) == pytest.approx(np.tile([7.5, 150, 291], (3, 1)))


def test_a_moment_that_too_few_trials_have_has_no_middle() -> None:
    curve = middle_curve(TRIALS, np.array([-390.0, -320.0, -118.0, 130.0, 145.0]))
    assert curve is not None
    assert np.isnan(curve.middle).tolist() == [True, False, False, True, True]


def test_a_hole_in_a_trial_is_not_bridged() -> None:
    holed = Laid(times=np.arange(0.0, 10.0), values=np.where(np.arange(10) == 5, np.nan, 1.0))
    assert np.isnan(on_common_grid([holed], [4.5, 5.0, 5.5])).all()
    assert not np.isnan(on_common_grid([holed], [3.5, 6.5])).any()


def test_fewer_than_three_trials_have_no_middle() -> None:
    assert middle_curve(TRIALS[:2], GRID) is None


def test_a_gap_is_taken_within_trials_so_that_a_late_event_cancels() -> None:
    late = {1: 0.0, 2: 15.0, 3: -22.0, 4: 7.0}
    pelvis = {t: -118.0 + d for t, d in late.items()}
    torso = {t: -82.0 + d for t, d in late.items()} | {9: 0.0}
    gap = gaps_of([("pelvis", pelvis), ("torso", torso)])["pelvis", "torso"]
    assert (gap.middle, gap.n) == (36.0, 4)
    assert gap.half == pytest.approx(0.0, abs=1e-9)
    assert (timing_of([4.0, 6.0]) or gap).half is None
    assert timing_of([]) is None


@pytest.mark.parametrize("n", [3, 5, 8, 12])
def test_the_error_holds_the_true_median_in_19_of_20_days(n: int) -> None:
    """By simulation, seeds apart from any used to set it: 4,000 days of n normal trials."""
    rng = np.random.default_rng(90_210 + n)
    days = [timing_of(list(rng.normal(-118, 11, n))) for _ in range(4000)]
    held = np.mean([abs(d.middle + 118) <= (d.half or 0.0) for d in days if d is not None])
    assert 0.945 <= held <= 0.985


def test_share_of_way_is_nought_and_a_hundred_at_the_events() -> None:
    assert share_of_way([0.45, 0.6], 0.45, 0.6) == pytest.approx([0, 100])
