"""Laws of traces: scale, shift, sign and sampling rate change what they must and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from latewood.pipeline.stats.movement import trace_faults as faults
from latewood.pipeline.stats.movement.trace_filter import low_pass, one_way_cutoff
from latewood.pipeline.stats.movement.traces import read_trace
from tests.calibration.study_traces import bell

T = np.arange(0, 1.2, 1 / 250)
heights = st.floats(min_value=300, max_value=2500)
centres = st.floats(min_value=0.35, max_value=0.85)
widths = st.floats(min_value=25, max_value=80)
seeds = st.integers(min_value=0, max_value=10_000)


def noisy(height: float, centre: float, width: float, seed: int) -> np.ndarray:
    return bell(T, centre, width, height) + np.random.default_rng(seed).normal(0, 0.01 * height, len(T))


@settings(max_examples=40, deadline=None)
@given(heights, centres, widths, seeds, st.floats(min_value=0.3, max_value=3.0))
def test_scale(height: float, centre: float, width: float, seed: int, factor: float) -> None:
    values = noisy(height, centre, width, seed)
    before, after = (read_trace(T, {"pelvis": k * values}).peaks[0] for k in (1.0, factor))
    assert before.speed is not None and after.speed is not None
    assert after.speed == pytest.approx(factor * before.speed, rel=1e-9)
    assert after.seconds == pytest.approx(before.seconds, abs=1e-9)
    assert after.speed_error == pytest.approx(factor * (before.speed_error or 0), rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(heights, centres, widths, seeds, st.floats(min_value=-50, max_value=5000))
def test_shift_in_time(height: float, centre: float, width: float, seed: int, shift: float) -> None:
    values = noisy(height, centre, width, seed)
    before, after = (read_trace(T + k, {"pelvis": values}).peaks[0] for k in (0.0, shift))
    assert after.speed == pytest.approx(before.speed, rel=1e-6)
    assert after.seconds == pytest.approx((before.seconds or 0) + shift, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(heights, centres, widths, seeds)
def test_sign(height: float, centre: float, width: float, seed: int) -> None:
    values = noisy(height, centre, width, seed)
    before, after = (read_trace(T, {"pelvis": k * values}).peaks[0] for k in (1.0, -1.0))
    assert after.speed == pytest.approx(-(before.speed or 0), rel=1e-12)
    assert (before.reversed, after.reversed) == (False, True)
    assert after.seconds == pytest.approx(before.seconds, abs=1e-12)
    assert after.magnitude == pytest.approx(before.magnitude, rel=1e-12)


@settings(max_examples=40, deadline=None)
@given(heights, centres, widths, st.floats(min_value=120, max_value=1000))
def test_rate(height: float, centre: float, width: float, rate: float) -> None:
    times = np.arange(0, 1.2, 1 / rate)
    peak = read_trace(times, {"pelvis": bell(times, centre, width, height)}).peaks[0]
    assert peak.speed == pytest.approx(height, rel=0.012)  # what 25 Hz blunts of the narrowest pulse
    assert peak.seconds == pytest.approx(centre, abs=0.0004)


def lost_one_by_one(values: np.ndarray, rate_hz: float) -> list[bool]:
    """The definition of a lost sample, run by run."""
    lost = [bool(np.isnan(v)) for v in values]
    largest = max((abs(v) for v in values if not np.isnan(v)), default=0.0)
    start = 0
    while start < len(values):
        end = start + 1
        while end < len(values) and values[end] == values[start]:
            end += 1
        value, n = values[start], end - start
        if (
            n >= faults.FEWEST_HELD
            and (n - 1) / rate_hz > faults.LONGEST_HOLD
            and abs(value) > faults.QUIET * largest
        ):
            lost[start + 1 : end] = [True] * (n - 1)
        if value == 0 and start > 0 and end < len(values):
            before, after = values[start - 1], values[end]
            beside = abs(before) > faults.QUIET * largest and abs(after) > faults.QUIET * largest
            if beside and (before > 0) == (after > 0):
                lost[start:end] = [True] * n
        start = end
    return lost


# runs of few different values, so that zeros, holds and gaps meet at each other and at both ends
runs = st.lists(
    st.tuples(st.sampled_from([0.0, 0.0, 5.0, 100.0, 101.0, -100.0, float("nan")]), st.integers(1, 9)),
    min_size=1,
    max_size=12,
)


@settings(max_examples=300, deadline=None)
@given(runs, st.sampled_from([60.0, 250.0, 1000.0]))
def test_lost_samples_are_those_of_the_definition(pieces: list[tuple[float, int]], rate_hz: float) -> None:
    values = np.concatenate([np.full(n, value) for value, n in pieces])
    assert faults.lost_samples(values, rate_hz).tolist() == lost_one_by_one(values, rate_hz)


@settings(max_examples=60, deadline=None)
@given(st.integers(12, 400), seeds, st.sampled_from([100.0, 250.0, 1000.0]), st.sampled_from([2, 3, 4]))
def test_the_filter_is_scipys_own_to_the_last_bit(n: int, seed: int, rate_hz: float, order: int) -> None:
    values = np.random.default_rng(seed).normal(0, 300, n).cumsum()
    sections = signal.butter(order, one_way_cutoff(25.0, order, rate_hz), fs=rate_hz, output="sos")
    try:
        theirs = signal.sosfiltfilt(sections, values)
    except ValueError:
        with pytest.raises(ValueError, match="padlen"):
            low_pass(values, rate_hz, 25.0, order)
        return
    assert low_pass(values, rate_hz, 25.0, order).tolist() == theirs.tolist()
