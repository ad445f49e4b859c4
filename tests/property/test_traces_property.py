"""Laws of traces: scale, shift, sign and sampling rate change what they must and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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
