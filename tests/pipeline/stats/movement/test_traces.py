"""Peaks of made traces whose truth is known, and everything that must be called missing instead."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from latewood.pipeline.stats.movement.trace_clock import read_clock
from latewood.pipeline.stats.movement.trace_filter import low_pass
from latewood.pipeline.stats.movement.trace_values import TraceSettings
from latewood.pipeline.stats.movement.traces import read_trace
from tests.calibration.study_traces import bell, errors

RATE = 250.0
T = np.arange(0, 1.2, 1 / RATE)
# height deg/s, time s, width ms: a teenager's throw (common practice, no source)
THROW = {"pelvis": (705, 0.48, 55), "torso": (985, 0.52, 45), "upper_arm": (1720, 0.55, 30)}


def throw(noise=0.0, seed=5, **turned):
    rng = np.random.default_rng(seed)
    return {
        name: turned.get(name, 1) * bell(T, at, width, height) + rng.normal(0, noise, len(T))
        for name, (height, at, width) in THROW.items()
    }


def one(values, times=T, **more):
    return read_trace(times, {"torso": values}, **more).peaks[0]


def clean(height=985.0):
    return bell(T, 0.52, 45, height)


def test_known_peaks_come_back_in_size_and_time():
    for peak in read_trace(T, throw()).peaks:
        height, at, _ = THROW[peak.segment]
        # the 25 Hz filter blunts the narrowest of these (30 ms) by 0.2 %
        assert peak.speed == pytest.approx(height, rel=0.004)
        assert peak.seconds == pytest.approx(at, abs=0.0002)


@pytest.mark.parametrize(("rate", "noise"), [(100, 30), (200, 30), (500, 30), (1000, 60), (200, 10)])
def test_the_stated_errors_are_those_found(rate, noise):
    result = errors(rate=rate, noise=noise, n=300)
    # the SD of 300 draws has a standard error of 4 %; three of them, and 6 % for what the formula leaves out
    assert result.n_read == 300
    assert result.stated_speed_sd == pytest.approx(result.speed_sd, rel=0.18)
    assert result.stated_time_sd == pytest.approx(result.time_sd, rel=0.18)
    assert abs(result.bias) < 0.01 * 1000


def test_the_parabola_brings_the_time_between_the_samples():
    result = errors(rate=100, noise=0, n=100)
    assert result.time_sd < 0.1
    assert result.sample_time_sd > 2.0  # 10 ms apart: SD 2.9


def test_the_same_samples_as_scipys_own_peak_tools():
    for noise in (0.0, 15.0):
        for name, values in throw(noise).items():
            settings = TraceSettings()
            filtered = low_pass(values, RATE, settings.cutoff_hz, settings.order)
            tops, result = signal.find_peaks(filtered, height=0.5 * filtered.max())
            best = tops[np.argmax(result["peak_heights"])]
            peak = read_trace(T, {name: values}).peaks[0]
            assert abs(peak.seconds - T[best]) <= 0.5 / RATE + 1e-9
            assert peak.speed == pytest.approx(filtered[best], rel=0.01)
            assert peak.speed >= filtered[best]


def test_the_cut_off_is_where_the_whole_filter_halves_the_power():
    t = np.arange(0, 8, 1 / 1000)
    for hz in (15.0, 25.0):
        middle = low_pass(np.sin(2 * np.pi * hz * t), 1000, hz, 2)[3000:5000]
        assert middle.max() ** 2 == pytest.approx(0.5, rel=0.002)


def test_no_delay_of_the_filter():
    t = np.arange(0, 4, 1 / 500)
    x = np.sin(2 * np.pi * 3 * t)
    middle = slice(500, 1500)
    assert np.corrcoef(low_pass(x, 500, 25, 2)[middle], x[middle])[0, 1] > 0.9999


# --- the clock ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [100, 240, 500, 1000])
@pytest.mark.parametrize("unit", ["s", "ms"])
def test_rate_and_unit_are_found(rate, unit):
    times = np.arange(0, 1.0, 1 / rate)
    clock, seconds, _ = read_clock(times * (1000 if unit == "ms" else 1))
    assert (clock.usable, clock.unit) == (True, unit)
    assert clock.rate_hz == pytest.approx(rate, rel=1e-9)
    assert seconds == pytest.approx(times)


def test_stamps_in_whole_milliseconds_give_the_true_rate():
    clock, _, _ = read_clock(np.rint(np.arange(0, 1000, 1000 / 240)))
    assert clock.rate_hz == pytest.approx(240, rel=0.002)
    assert "scatter" not in " ".join(clock.remarks)


@pytest.mark.parametrize("rate", [50, 2000])
def test_rates_that_are_too_low_or_too_high_are_refused(rate):
    reading = read_trace(np.arange(0, 1.0, 1 / rate), {"pelvis": np.ones(rate)})
    assert not reading.clock.usable
    assert "100 to 1000 a second" in reading.peaks[0].reason


def test_jitter_is_told_and_too_much_of_it_refused():
    rng = np.random.default_rng(3)
    some, much = (read_clock(T + rng.normal(0, sd, len(T)))[0] for sd in (0.0006, 0.0016))
    assert some.usable and "scatter" in some.remarks[0]
    assert some.jitter_ms == pytest.approx(0.6, rel=0.2)
    assert not much.usable


def test_a_drifting_clock_is_told_and_followed():
    true = T * (1 + 0.02 * T / T[-1])  # the interval grows by 4 %
    clock, seconds, _ = read_clock(true)
    assert clock.drift_percent == pytest.approx(4.0, abs=0.3)
    assert "drifts" in clock.remarks[0]
    assert seconds == pytest.approx(true, abs=1e-4)
    assert one(bell(true, 0.52, 45, 900), true).seconds == pytest.approx(0.52, abs=0.0005)


def test_a_doubled_time_is_told_and_the_first_sample_kept():
    times, values = np.insert(T, 100, T[100]), np.insert(clean(), 101, 9999.0)
    reading = read_trace(times, {"torso": values})
    assert reading.clock.n_duplicate == 1
    assert reading.peaks[0].speed == pytest.approx(985, rel=0.01)


def test_time_that_runs_backwards_is_refused():
    clock, _, _ = read_clock(np.concatenate([T, T]))
    assert not clock.usable
    assert "backwards" in clock.reason


def test_skipped_samples_are_holes_and_not_a_shorter_movement():
    keep = np.ones(len(T), dtype=bool)
    keep[20:24] = False
    reading = read_trace(T[keep], {"torso": clean()[keep]})
    assert reading.clock.n_skipped == 4
    assert reading.peaks[0].n_lost == 4
    assert reading.peaks[0].seconds == pytest.approx(0.52, abs=0.0003)


# --- what must be missing ----------------------------------------------------------------------------------------


def broken(change):
    values = clean()
    change(values)
    return values


def _nan(values, start, end):
    values[start:end] = np.nan


def _zero(values, start, end):
    values[start:end] = 0.0


def _hold(values, start, end):
    values[start:end] = values[start]


AT = round(0.52 * RATE)


@pytest.mark.parametrize("fault", [_nan, _zero, _hold], ids=["blank", "zeros", "held"])
@pytest.mark.parametrize("start", [-4, -1, 2, -12])
def test_a_peak_is_never_read_across_a_drop_out(fault, start):
    peak = one(broken(lambda v: fault(v, AT + start, AT + start + 5)))
    assert (peak.state, peak.speed) == ("missing", None)
    assert "drop-out" in peak.reason or "end of its range" in peak.reason


@pytest.mark.parametrize("fault", [_nan, _zero, _hold], ids=["blank", "zeros", "held"])
def test_a_short_drop_out_far_from_the_peak_is_told_and_does_no_harm(fault):
    at = round((0.52 - 0.045 * 1.5) * RATE)  # at a third of the height
    peak = one(broken(lambda v: fault(v, at - 4, at)))
    assert peak.state == "measured"
    assert peak.n_lost >= 3
    assert peak.speed == pytest.approx(985, rel=0.003)


def test_a_long_hole_could_hide_the_peak():
    peak = one(broken(lambda v: _nan(v, 20, 60)))
    assert "could hide" in peak.reason


@pytest.mark.parametrize("level", [0.97, 0.8, 0.5])
def test_a_clipped_top_is_missing(level):
    peak = one(np.minimum(clean(), level * 985))
    assert "end of its range" in peak.reason or "drop-out" in peak.reason
    assert peak.speed is None


def test_a_clipped_top_with_noise_on_its_sides_is_missing():
    noise = np.random.default_rng(8).normal(0, 25, len(T))
    assert "end of its range" in one(np.minimum(clean() + noise, 0.93 * 985)).reason


def test_a_drop_out_on_the_way_up_could_hide_a_higher_top():
    values = bell(T, 0.52, 80, 985)
    values[AT - 20 : AT - 18] = np.nan  # at half the height, beyond the reach of the filter
    assert "on the way" in one(values).reason


def test_nothing_is_lost_within_reach_of_the_filter():
    narrow = bell(T, 0.52, 15, 985)
    for start, state in (
        (AT + 8, "missing"),
        (AT + 11, "measured"),
    ):  # 40 ms are one period of 25 Hz, 10 samples
        values = narrow.copy()
        values[start : start + 2] = np.nan
        assert one(values).state == state


def test_a_clipped_negative_top_is_missing_too():
    assert one(np.maximum(-clean(), -700)).speed is None


@pytest.mark.parametrize("rate", [100, 250, 1000])
def test_a_rounded_top_is_no_clipped_top(rate):
    times = np.arange(0, 1.2, 1 / rate)
    peak = read_trace(times, {"pelvis": np.rint(bell(times, 0.5, 60, 580))}).peaks[0]
    assert peak.speed == pytest.approx(580, rel=0.003)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        (np.full(len(T), 12.0), "flat"),
        (np.zeros(len(T)), "flat"),
        (np.full(len(T), np.nan), "nothing was recorded"),
        (np.random.default_rng(1).normal(0, 40, len(T)), "stands out|both ways"),
        (bell(T, T[-1] + 0.02, 45, 900), "edge"),
        (bell(T, 0.4, 40, 900) - bell(T, 0.6, 40, 800), "both ways"),
    ],
)
def test_channels_without_a_peak_say_why(values, words):
    peak = one(values)
    assert peak.speed is None
    assert any(word in peak.reason for word in words.split("|")), peak.reason


def test_a_second_top_of_the_same_height_is_told():
    peak = one(bell(T, 0.4, 30, 900) + bell(T, 0.56, 30, 890))
    assert "second top" in peak.remarks[0]


def test_peaks_are_looked_for_before_the_event():
    values = clean() + bell(T, 1.0, 40, 1300)  # the follow-through turns faster
    assert one(values).seconds == pytest.approx(1.0, abs=0.001)
    assert one(values, event=0.60).seconds == pytest.approx(0.52, abs=0.001)
    late = one(values, times=T * 1000, event=600.0)
    assert late.seconds == pytest.approx(0.52, abs=0.001)


# --- signs -------------------------------------------------------------------------------------------------------


def test_one_sensor_worn_the_other_way_keeps_its_sign_and_is_flagged():
    reading = read_trace(T, throw(torso=-1))
    torso = next(peak for peak in reading.peaks if peak.segment == "torso")
    assert reading.side == "some reversed"
    assert (torso.reversed, torso.speed < 0, torso.magnitude > 0) == (True, True, True)


def test_the_larger_side_names_the_direction():
    values = -bell(T, 0.5, 45, 1104) + bell(T, 0.75, 60, 212)
    peak = one(values)
    assert peak.speed == pytest.approx(-1104, rel=0.003)
    assert peak.opposite == pytest.approx(212, rel=0.01)


def test_all_channels_reversed_is_not_a_sensor():
    assert read_trace(T, throw(pelvis=-1, torso=-1, upper_arm=-1)).side == "all reversed"
    assert read_trace(T, throw()).side == "as worn"
    two = {name: values for name, values in throw(pelvis=-1, torso=-1).items() if name != "upper_arm"}
    assert read_trace(T, two).side == "not known"
