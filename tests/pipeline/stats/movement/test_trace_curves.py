"""A trial as it is drawn: the curve the peak was read from, and every stretch that was not recorded truly."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from latewood.pipeline.stats.movement.trace_curves import drawn_trial
from latewood.pipeline.stats.movement.trace_values import TraceSettings
from latewood.pipeline.stats.movement.traces import read_trace
from tests.calibration.study_traces import bell

T = np.arange(0, 1.2, 1 / 250)
SETTINGS = TraceSettings()


def drawn(values, times=T, event=0.6):
    return drawn_trial(times, {"torso": values}, event, SETTINGS)


def test_the_peak_stands_on_the_curve_that_is_drawn() -> None:
    values = bell(T, 0.5, 45, 985) + np.random.default_rng(2).normal(0, 20, len(T))
    (channel,) = drawn(values).channels
    assert channel.peak == read_trace(T, {"torso": values}, 0.6, SETTINGS).peaks[0]
    tops, result = signal.find_peaks(channel.filtered, height=500)
    best = tops[np.argmax(result["peak_heights"])]
    assert channel.peak.seconds == pytest.approx(T[best], abs=0.5 / 250)
    assert np.array_equal(channel.raw, values)


def test_lost_stretches_and_a_flat_top_stand_where_they_are() -> None:
    values = np.minimum(bell(T, 0.5, 60, 985), 800.0)
    values[20:30] = np.nan
    (channel,) = drawn(values).channels
    assert channel.lost[0] == pytest.approx((T[20], T[29]))
    cut = T[bell(T, 0.5, 60, 985) >= 800]
    assert channel.flat_top == pytest.approx((cut[0], cut[-1]))
    (turned,) = drawn(-values).channels
    assert turned.flat_top == pytest.approx((cut[0], cut[-1]))


def test_a_true_top_is_no_flat_top_and_nothing_is_lost() -> None:
    (channel,) = drawn(bell(T, 0.5, 60, 985)).channels
    assert (channel.lost, channel.flat_top) == ((), None)


def test_milliseconds_are_drawn_in_seconds() -> None:
    result = drawn(bell(T, 0.5, 60, 985), T * 1000, 600.0)
    assert result.event == pytest.approx(0.6)
    assert result.times == pytest.approx(T)


def test_without_a_clock_there_is_nothing_to_draw_but_the_reason() -> None:
    result = drawn(np.ones(40), np.zeros(40))
    assert result.channels == ()
    assert result.clock.reason


def test_a_channel_without_anything_has_no_curve() -> None:
    (channel,) = drawn(np.full(len(T), np.nan)).channels
    assert channel.filtered is None
    assert channel.peak.reason == "nothing was recorded"
