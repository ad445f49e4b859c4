"""Simulated camps with a known truth, as session values."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.catalogue.model import Better, Measure, SummaryRule

LONG_CAMP = (0.0, 0.2, 3.0, 6.0, 10.0)  # weeks since arrival; two baseline days
MIDDLE_CAMP = (0.0, 0.2, 4.0, 8.0)
SHORT_CAMP = (0.0, 0.2, 3.0)
MANY_TESTS = (0.0, 0.2, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0)


@dataclass(frozen=True, kw_only=True)
class SimulatedCamp:
    """Session values and, per athlete in order, what is true of them."""

    sessions: pd.DataFrame
    stays: pd.DataFrame
    mass_part: np.ndarray  # (n,) mph per unit of the saturating part
    log_part: np.ndarray  # (n,) mph per unit of log time
    ids: tuple[str, ...]

    def true_change(self, start: float, end: float) -> np.ndarray:
        """True change (n,) between two times in weeks, mph."""
        return _course(self.mass_part, self.log_part, end) - _course(self.mass_part, self.log_part, start)


def _course(mass_part: np.ndarray, log_part: np.ndarray, weeks: float) -> np.ndarray:
    return mass_part * 30.0 * (1.0 - np.exp(-weeks / 30.0)) + log_part * np.log1p(weeks / 3.0)


def _session_value(rng: np.random.Generator, level: float) -> tuple[float, int, float]:
    trials = level + rng.normal(0.0, 2.3, size=rng.integers(5, 11))
    mishit = rng.random(trials.size) < 0.04
    trials[mishit] -= rng.uniform(8.0, 20.0, size=int(mishit.sum()))
    return float(np.median(trials)), trials.size, float(trials.std(ddof=1))


def simulate(
    seed: int,
    *,
    n: int = 30,
    weeks: tuple[float, ...] = LONG_CAMP,
    still: float = 0.0,  # share of athletes who do not change
    bad_intake: float = 0.3,  # share with a bad day (-2 mph) at intake
    travel: float = 0.0,  # what everybody lacks on the intake day
    learning: float = 0.0,  # what every session after the first gains from knowing the test
    missing: float = 0.06,
    leaving: float = 0.0,  # share that leaves after half of the camp
    camp: str = "camp",
    measure: str = "exit_speed",
) -> SimulatedCamp:
    """A camp of exit speeds in mph: session SD 1.2, trial SD 2.3, median of 5 to 10 trials, some mishits."""
    rng = np.random.default_rng(seed)
    changing = rng.random(n) >= still
    mass_part = changing * 0.27 * rng.normal(0.45, 0.22, size=n)
    log_part = changing * rng.normal(1.0, 0.7, size=n)
    level = rng.normal(82.0, 6.0, size=n)
    left = rng.random(n) < leaving
    rows = []
    for i in range(n):
        for k, week in enumerate(weeks):
            if k and (rng.random() < missing or (left[i] and week > 0.5 * weeks[-1])):
                continue
            day = -2.0 * (rng.random() < bad_intake) - travel if k == 0 else learning
            true = level[i] + _course(mass_part[i], log_part[i], week) + day + rng.normal(0.0, 1.2)
            value, n_trials, trial_sd = _session_value(rng, true)
            rows.append((i, round(week * 7), k == 0, value, n_trials, trial_sd))
    ids = tuple(f"{camp}-{i:03d}" for i in range(n))
    return SimulatedCamp(
        sessions=_frame(rows, ids, camp, measure),
        stays=_stays(ids, camp, weeks[-1], left),
        mass_part=mass_part,
        log_part=log_part,
        ids=ids,
    )


def _frame(rows: list[tuple], ids: tuple[str, ...], camp: str, measure: str) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["i", "day", "is_intake", "value", "n_trials", "trial_sd"])
    athlete = frame["i"].map(lambda i: ids[i])
    held_on = [date.fromordinal(date(2033, 6, 1).toordinal() + d) for d in frame["day"]]
    return pd.DataFrame({
        "session_id": [f"{a}@{d}" for a, d in zip(athlete, held_on, strict=True)],
        "athlete_id": athlete,
        "stay_id": athlete + "@" + camp,
        "camp_id": camp,
        "held_on": held_on,
        "weeks": frame["day"] / 7.0,
        "is_intake": frame["is_intake"],
        "measure": measure,
        "line": "delivery=tee",
        "own_line": "delivery=tee",
        "value": frame["value"],
        "shift": 0.0,
        "shift_se": 0.0,
        "best": frame["value"],
        "n_trials": frame["n_trials"],
        "trial_sd": frame["trial_sd"],
        "imports": "made",
    })


def _stays(ids: tuple[str, ...], camp: str, weeks: float, left: np.ndarray) -> pd.DataFrame:
    start = date(2033, 6, 1).toordinal()
    end = date.fromordinal(start + round(7 * weeks))
    half = date.fromordinal(start + round(3.5 * weeks) + 1)
    return pd.DataFrame({
        "stay_id": [f"{a}@{camp}" for a in ids],
        "athlete_id": ids,
        "camp_id": camp,
        "arrived_on": date(2033, 6, 1),
        "left_on": [half if gone else end for gone in left],
        "planned_until": end,
        "left_early": left,
    })


@pytest.fixture
def simulated_camp() -> Callable[..., SimulatedCamp]:
    """The simulator, so that each test chooses its own camp."""
    return simulate


def make_measure(**changes: object) -> Measure:
    """A measure in mph with the noise of the simulated camps; `changes` replace fields."""
    plain = Measure(
        key="exit_speed",
        label="Exit speed",
        family="skill output",
        unit="mph",
        accepted_units=("mph",),
        better=Better.HIGHER,
        kind="number",
        ratings=(),
        resolution=0.1,
        decimals=1,
        hard_low=20.0,
        hard_high=130.0,
        bands=(),
        trials=7,
        summary=SummaryRule.MEDIAN,
        keep=1,
        summary_reason="robust to mishits",
        conditions=(),
        rep_formula="",
        typical_error=1.6,
        smallest_change=None,
        protocol="",
        source="",
    )
    return replace(plain, **changes)


@pytest.fixture
def a_measure() -> Callable[..., Measure]:
    """The maker of measures, so that each test changes what it is about."""
    return make_measure
