"""Simulated camps whose plan starts were drawn, with known truth; output in mph, mass in kg, weeks of the stay.

Assumptions of ours: session noise 1.1 mph, own practice .10 ± .12 mph a week beside a first-test effect of .6, own
drift of mass .05 ± .12 kg a week, a plan that adds .23 kg a week more or less by .10, mass off by .2 kg on a test day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from latewood.pipeline.stats.links.draw_order import drawn_groups
from latewood.pipeline.stats.links.staggered import Trial
from latewood.pipeline.stats.links.staggered_design import Spread

ARRIVED = np.datetime64("2033-01-03")


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is planted; pairs are mean and SD between athletes."""

    per_kg: float = 0.25
    gain: tuple[float, float] = (0.23, 0.10)
    drift: tuple[float, float] = (0.05, 0.12)
    practice: tuple[float, float] = (0.10, 0.12)
    noise: float = 1.1
    learning: float = 0.6
    mass_error: float = 0.2
    tied: float = 0.0  # output a week by kg a week of own drift: those who gain more improve more anyway
    missing: float = 0.0  # share of tests missed
    tails: float = 0.0  # degrees of freedom of the noise; 0 is normal

    def spreads(self) -> tuple[Spread, Spread]:
        """Scatter of output and of mass as the design is told them."""
        rate = self.drift[1] ** 2 + self.gain[1] ** 2
        slope = self.practice[1] ** 2 + self.per_kg**2 * rate
        return (
            Spread(noise=self.noise, own=np.diag([36.0, slope])),
            Spread(noise=self.mass_error, own=np.diag([64.0, rate])),
        )


def drawn_trial(
    rng: np.random.Generator, n: int, starts: Sequence[float], tests: Sequence[float], truth: Truth
) -> Trial:
    """The tests of one camp of n athletes whose plans begin in the weeks `starts` as a draw decides."""
    when, begin = np.asarray(tests, dtype=float), np.asarray(starts, dtype=float)
    group = np.array(drawn_groups(n, len(begin), int(rng.integers(2**31))), dtype=np.int64)
    since = np.maximum(when[None, :, None] - begin[None, None, :], 0.0)
    on_plan = since[0][:, group].T
    drift = rng.normal(0.0, truth.drift[1], (n, 1))
    level = np.sort(rng.normal(72.0, 8.0, n))[::-1, None]
    mass = level + (truth.drift[0] + drift) * when[None, :] + rng.normal(*truth.gain, (n, 1)) * on_plan
    value = rng.normal(80.0, 6.0, (n, 1)) + truth.per_kg * (mass - level)
    value = value + (rng.normal(*truth.practice, (n, 1)) + truth.tied * drift) * when[None, :]
    value = value + truth.learning * (when[None, :] > when.min()) + _noise(rng, (n, when.size), truth)
    observed = mass + rng.normal(0.0, truth.mass_error, mass.shape)
    value[rng.random(value.shape) < truth.missing] = np.nan
    return Trial(
        place=np.repeat(np.arange(n), when.size), stay=np.repeat(np.arange(n).astype(str), when.size),
        weeks=np.tile(when, n), since=np.tile(since[0], (n, 1)), mass=observed.ravel(), value=value.ravel(),
        group=group,
    )  # fmt: skip


def _noise(rng: np.random.Generator, shape: tuple[int, int], truth: Truth) -> np.ndarray:
    if not truth.tails:
        return rng.normal(0.0, truth.noise, shape)
    return rng.standard_t(truth.tails, shape) * truth.noise / np.sqrt(truth.tails / (truth.tails - 2.0))


def frames_of(trial: Trial, starts: Sequence[float]) -> dict[str, pd.DataFrame]:
    """The same camp as tables of the warehouse: sessions, mass trend, draws and plans that began as drawn."""
    days = (7.0 * np.asarray(starts)).astype(int)
    names = np.array([f"T{k}" for k in range(len(trial.group))])
    held = ARRIVED + (7.0 * trial.weeks).astype(int)
    who = names[trial.place]
    sessions = pd.DataFrame({
        "session_id": [f"x{k}" for k in range(len(who))], "athlete_id": who, "stay_id": who, "camp_id": "A",
        "held_on": held, "weeks": trial.weeks, "is_intake": trial.weeks == 0.0, "measure": "exit_speed", "line": "l",
        "value": trial.value, "best": trial.value, "n_trials": 5, "trial_sd": 1.0,
    })  # fmt: skip
    mass = pd.DataFrame({"stay_id": who, "on_date": held, "smoothed_kg": trial.mass})
    begin = ARRIVED + days[trial.group]
    draws = pd.DataFrame({"camp_id": "A", "place": range(len(names)), "athlete_id": names, "start_on": begin})
    plans = pd.DataFrame({"athlete_id": names, "camp_id": "A", "start_on": begin})
    return {"sessions": sessions, "mass": mass, "draws": draws, "plans": plans}
