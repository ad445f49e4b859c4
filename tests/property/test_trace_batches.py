"""Trials read together give what each gives alone: the same faults in the same words, the same numbers."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, fields
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.ingest.files.mapping import parse_mapping
from latewood.pipeline.ingest.files.reading import read_table
from latewood.pipeline.ingest.files.trace_cells import trace_cells
from latewood.pipeline.ingest.files.trace_trials import open_traces
from latewood.pipeline.stats.movement.trace_clock import read_clock
from latewood.pipeline.stats.movement.trace_values import TraceReading
from latewood.pipeline.stats.movement.traces import GivenTrace, read_traces
from tests.bench.traces import MAPPING, day_of_traces
from tests.calibration.study_traces import bell
from tests.property import traces_one_by_one as alone

SEGMENTS = ("pelvis", "torso", "upper arm", "forearm")
Spoil = Callable[["Drawn"], np.ndarray]


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """One channel before anything is wrong with it, and where something will be."""

    times: np.ndarray
    values: np.ndarray
    centre: float
    height: float
    at: int
    end: int
    rng: np.random.Generator

    def put(self, first: int, last: int, value: float) -> np.ndarray:
        result = self.values.copy()
        result[first:last] = value
        return result


FAULTS: dict[str, Spoil] = {
    "none": lambda d: d.values,
    "blank": lambda d: d.put(0, len(d.values), np.nan),
    "turned": lambda d: -d.values,
    "flat": lambda d: d.put(0, len(d.values), d.rng.choice([0.0, 12.0])),
    "held": lambda d: d.put(d.at, d.end, d.values[d.at]),
    "zeros": lambda d: d.put(d.at, d.end, 0.0),
    "missing": lambda d: d.put(d.at, d.end, np.nan),
    "most missing": lambda d: d.put(0, int(0.6 * len(d.values)), np.nan),
    "cut off": lambda d: np.minimum(d.values, d.rng.uniform(0.5, 0.98) * d.height),
    "both ways": lambda d: d.values - bell(d.times, d.centre + 0.15, 40, 0.9 * d.height),
    "edge": lambda d: bell(d.times, d.times[-1] + 0.01, 40, d.height),
    "twice": lambda d: d.values + bell(d.times, d.centre + 0.2, 30, 0.99 * d.height),
    "noise": lambda d: d.rng.normal(0, 40, len(d.times)),
}  # fmt: skip
Kept = tuple[np.ndarray, np.ndarray]  # the stamps, and which samples are kept
STAMPS: dict[str, Callable[[np.ndarray, np.random.Generator], Kept]] = {
    "even": lambda t, _: (t, np.arange(len(t))),
    "jittery": lambda t, rng: (t + rng.normal(0, 0.12 * (t[1] - t[0]), len(t)), np.arange(len(t))),
    "very jittery": lambda t, rng: (t + rng.normal(0, 0.28 * (t[1] - t[0]), len(t)), np.arange(len(t))),
    "doubled": lambda t, rng: (t, np.sort(np.concatenate([np.arange(len(t)), rng.choice(len(t), 2)]))),
    "skipped": lambda t, rng: (t, np.delete(np.arange(len(t)), np.arange(20, 20 + int(rng.integers(1, 5))))),
    "backwards": lambda t, _: (np.concatenate([t[: len(t) // 2], t[: len(t) - len(t) // 2]]), np.arange(len(t))),
    "drifting": lambda t, _: (t + 0.02 * (t - t[0]) ** 2, np.arange(len(t))),
    "in ms": lambda t, _: (1000 * t, np.arange(len(t))),
    "too slow": lambda t, _: (50 * t, np.arange(len(t))),
    "whole ms": lambda t, _: (np.rint(1000 * t), np.arange(len(t))),
    "short": lambda t, _: (t, np.arange(20)),
    "text": lambda t, rng: (np.where(np.isin(t, rng.choice(t, 3)), np.nan, t), np.arange(len(t))),
}  # fmt: skip


def _values(times: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    n, fault = len(times), str(rng.choice(list(FAULTS)))
    centre = times[0] + (times[-1] - times[0]) * rng.uniform(0.3, 0.8)
    height, at = rng.uniform(300, 2000), int(rng.integers(1, n - 12))
    values = bell(times, centre, rng.uniform(15, 80), height) + rng.normal(0, rng.choice([0, 2, 30]), n)
    if rng.random() < 0.7:
        values = np.round(values, int(rng.integers(0, 2)))
    end = at + int(rng.integers(2, 30))
    drawn = Drawn(times=times, values=values, centre=centre, height=height, at=at, end=end, rng=rng)
    return FAULTS[fault](drawn)


def _trial(rng: np.random.Generator, rate: float) -> GivenTrace:
    times = rng.choice([0.0, 7.25, 311.0]) + np.arange(0, rng.choice([0.6, 0.9]), 1 / rate)
    kind = str(rng.choice([*STAMPS, "even"]))
    channels = {name: _values(times, rng) for name in SEGMENTS[: int(rng.integers(1, 5))]}
    event = None if rng.random() < 0.3 else float(times[0] + rng.uniform(-0.1, 1.1))
    stamps, keep = STAMPS[kind](times, rng)
    if event is not None and kind in ("in ms", "whole ms"):
        event *= 1000
    return GivenTrace(stamps=stamps[keep], channels={k: v[keep] for k, v in channels.items()}, event=event)


def _same(one: object, other: object) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return one == pytest.approx(other, rel=1e-9, abs=1e-9, nan_ok=True)
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(_same_remark, one, other))
    return one == other


def _same_remark(one: str, other: str) -> bool:
    """The same words; a distance in whole ms may round the other way where it lies half way between two."""
    apart, theirs = (re.search(r"stands (\d+) ms away", text) for text in (one, other))
    if apart is None or theirs is None:
        return one == other
    return one.replace(apart[1], theirs[1]) == other and abs(int(apart[1]) - int(theirs[1])) <= 1


def _differences(mine: TraceReading, theirs: TraceReading) -> list[str]:
    pairs = [(mine.clock, theirs.clock), *zip(mine.peaks, theirs.peaks, strict=True)]
    result = [] if mine.side == theirs.side else ["side"]
    for one, other in pairs:
        names = [field.name for field in fields(one)]
        result += [f"{n}: {getattr(one, n)} {getattr(other, n)}" for n in names
                   if not _same(getattr(one, n), getattr(other, n))]  # fmt: skip
    return result


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000), st.sampled_from([100.0, 240.0, 250.0]), st.sampled_from([1, 5, 40]))
def test_trials_together_give_what_each_gives_alone(seed: int, rate: float, count: int) -> None:
    rng = np.random.default_rng(seed)
    trials = [_trial(rng, rate) for _ in range(count)]
    for trial, mine in zip(trials, read_traces(trials), strict=True):
        assert _differences(mine, alone.read_trace(trial.stamps, trial.channels, trial.event)) == []


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 100_000))
def test_places_and_times_of_a_clock_are_those_of_a_clock_alone(seed: int) -> None:
    trial = _trial(np.random.default_rng(seed), 250.0)
    stamps = np.asarray(trial.stamps)[np.isfinite(trial.stamps)]
    (_, times, places), (_, their_times, their_places) = read_clock(stamps), alone.read_clock(stamps)
    assert places.tolist() == their_places.tolist()
    assert times == pytest.approx(their_times, abs=1e-9)


def test_every_fault_and_every_clock_of_these_tests_comes_up() -> None:
    rng = np.random.default_rng(3)
    reasons, remarks = set(), set()
    for reading in read_traces([_trial(rng, 250.0) for _ in range(900)]):
        reasons |= {" ".join(w for w in peak.reason.split() if w.isalpha()) for peak in reading.peaks}
        remarks |= {" ".join(w for w in text.split() if w.isalpha()) for text in reading.clock.remarks}
        remarks |= {
            " ".join(w for w in text.split() if w.isalpha())
            for peak in reading.peaks
            for text in peak.remarks
        }
    for words in ("nothing was recorded", "samples are lost", "ways about equally", "out of the noise", "edge of the",
                  "cut off", "lies at the peak", "could hide the peak", "on the way to the peak", "does not cover",
                  "the channel is", "backwards", "time stamps jump", "can be read", "are needed"):  # fmt: skip
        assert any(words in reason for reason in reasons), words
    for words in (
        "second top",
        "lost away from the peak",
        "scatter",
        "interval changes",
        "samples repeat a",
        "are skipped",
    ):
        assert any(words in text for text in remarks), words


def test_a_large_file_is_read_as_a_small_one_is() -> None:
    """A large file's columns of numbers are read as numbers at once, a small one's cell by cell."""
    rng = np.random.default_rng(8)
    catalogue = load_catalogue()
    mapping = parse_mapping(MAPPING, "traces.toml", catalogue)
    written = day_of_traces(["B1", "01", " B2"], date(2033, 5, 2), rng)
    written["Throw"] = (
        written["Throw"].astype(str).where(written["Throw"] > 3, "0" + written["Throw"].astype(str))
    )
    content = written.to_csv(index=False).encode()
    large = open_traces("traces_a.csv", content, mapping)
    small = read_table("traces_a.csv", content, mapping.options)
    assert (large.frame["Time"].dtype, small.frame["Time"].dtype) == ("float64", "str")
    one, other = (trace_cells("traces_a.csv", table, mapping, catalogue) for table in (large, small))
    assert one.cells.frame.equals(other.cells.frame)
    assert one.channels.equals(other.channels)
    assert (one.notes, one.cells.combinations) == (other.notes, other.cells.combinations)
    assert {" B2".strip(), "B1", "01"} == set(one.cells.frame["athlete_text"])
    assert "01" in set(one.cells.frame["trial_text"])


def test_a_word_amid_the_numbers_of_a_large_file_is_read_as_text() -> None:
    catalogue = load_catalogue()
    mapping = parse_mapping(MAPPING, "traces.toml", catalogue)
    written = day_of_traces(["B1"], date(2033, 5, 2), np.random.default_rng(8)).astype(str)
    written.loc[100, "Pelvis"] = "n/a"
    table = open_traces("traces_a.csv", written.to_csv(index=False).encode(), mapping)
    assert table.frame["Pelvis"].dtype == "str"
    lost = trace_cells("traces_a.csv", table, mapping, catalogue).channels
    assert lost.loc[lost["measure"] == "pelvis_peak_speed", "n_lost"].iloc[0] == 1
