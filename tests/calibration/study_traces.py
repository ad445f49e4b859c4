"""Errors of peak speed and time of made traces whose peaks are known: `python -m tests.calibration.study_traces`.

Each trace is one bell-shaped pulse of 1000 deg/s with white noise; the pulse lies anywhere between two samples.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from latewood.pipeline.stats.movement.trace_peaks import curve_of
from latewood.pipeline.stats.movement.trace_values import TraceSettings
from latewood.pipeline.stats.movement.traces import read_trace

SEED = 8801
HEIGHT = 1000.0
RATES, NOISES = (100, 200, 500, 1000), (0.0, 10.0, 30.0, 60.0)
WIDTHS, CUTOFFS = (60, 40, 30, 20, 15), (10, 15, 20, 25, 30, 40)  # ms (SD of the bell), Hz


@dataclass(frozen=True, slots=True, kw_only=True)
class Errors:
    """Of many traces at one rate, noise, width and cut-off. Speeds in deg/s, times in ms."""

    n: int
    n_read: int
    bias: float
    speed_sd: float
    stated_speed_sd: float
    time_bias: float
    time_sd: float
    stated_time_sd: float
    sample_time_sd: float  # without the parabola: the time of the highest sample


def bell(times: np.ndarray, centre: float, width_ms: float, height: float = HEIGHT) -> np.ndarray:
    return height * np.exp(-((times - centre) ** 2) / (2 * (width_ms / 1000) ** 2))


def errors(
    *,
    rate: float,
    noise: float,
    width_ms: float = 30,
    cutoff_hz: float | None = None,
    n: int = 400,
    seed: int = SEED,
) -> Errors:
    rng = np.random.default_rng([seed, int(rate), int(noise), int(width_ms)])
    settings = TraceSettings() if cutoff_hz is None else TraceSettings(cutoff_hz=cutoff_hz)
    times = np.arange(0, 1.2, 1 / rate)
    rows = []
    for _ in range(n):
        centre = 0.6 + rng.uniform(0, 1 / rate)
        values = bell(times, centre, width_ms) + rng.normal(0, noise, len(times))
        peak = read_trace(times, {"pelvis": values}, settings=settings).peaks[0]
        if peak.speed is None or peak.seconds is None:
            continue
        curve = curve_of(values, rate, settings)
        assert curve is not None
        sample = times[int(np.argmax(curve.filtered))]
        rows.append((
            peak.speed - HEIGHT, peak.speed_error, (peak.seconds - centre) * 1e3,
            (peak.seconds_error or 0) * 1e3, (sample - centre) * 1e3,
        ))  # fmt: skip
    result = np.array(rows, dtype=float)
    middle, spread = result.mean(axis=0), result.std(axis=0)
    return Errors(
        n=n, n_read=len(result), bias=middle[0], speed_sd=spread[0], stated_speed_sd=middle[1], time_bias=middle[2],
        time_sd=spread[2], stated_time_sd=middle[3], sample_time_sd=float(np.sqrt((result[:, 4] ** 2).mean())),
    )  # fmt: skip


def noise_table() -> str:
    lines = [
        "| samples a second | noise, deg/s | speed: bias | speed: SD (stated) | time: SD, ms (stated) "
        "| without the parabola, ms | traces read |",
        "|---|---|---|---|---|---|---|",
    ]
    for rate in RATES:
        for noise in NOISES:
            e = errors(rate=rate, noise=noise)
            lines.append(
                f"| {rate} | {noise:.0f} | {e.bias:+.1f} | {e.speed_sd:.1f} ({e.stated_speed_sd:.1f}) "
                f"| {e.time_sd:.2f} ({e.stated_time_sd:.2f}) | {e.sample_time_sd:.2f} | {e.n_read} of {e.n} |"
            )
    return "\n".join(lines)


def cutoff_table() -> str:
    lines = [
        "| cut-off, Hz | " + " | ".join(f"{w} ms" for w in WIDTHS) + " | SD at 200 a second, noise 30 |",
        "|---" * (len(WIDTHS) + 2) + "|",
    ]
    for cutoff in CUTOFFS:
        cells = [
            f"{errors(rate=500, noise=0, width_ms=w, cutoff_hz=cutoff, n=20).bias / HEIGHT:+.1%}"
            for w in WIDTHS
        ]
        noisy = errors(rate=200, noise=30, cutoff_hz=cutoff)
        lines.append(
            f"| {cutoff} | {' | '.join(cells)} | {noisy.speed_sd:.0f} deg/s, {noisy.time_sd:.1f} ms |"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(f"{noise_table()}\n\n{cutoff_table()}\n")
