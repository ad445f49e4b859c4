"""How much of a camp's change a plan of test days would let us see: made camps judged as real ones are.

Athletes of made camps change by 0, 1, 2 or 3 times the noise of today's test day over their stay, evenly. They are
tested as the plan says; session values carry the noise between days and that of their trials; every session from the
fourth on is a look, with course, first day, noise and limits learned from the made camp as in `trend`. Noise is
normal and not carried on: a real camp may show less. A median of n trials varies by π/2 times as much as their mean
(large n; Kendall, Stuart, The Advanced Theory of Statistics, vol 1, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi, sqrt
from typing import Final

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Measure, SummaryRule
from latewood.pipeline.stats.change.trend import lines_tested, pool_of, tested_course
from latewood.pipeline.stats.change.verdict import FEWEST_SESSIONS, clear_at, normal_z
from latewood.pipeline.stats.engine.mixed_sums import Floats

SIZES: Final = (0.0, 1.0, 2.0, 3.0)  # times the noise of a test day as it is now
CAMPS: Final = 12
AGAIN_DAYS: Final = 2.0  # after arrival, where everybody is tested twice there


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """A plan of tests: weeks of a stay, weeks between tests, whether twice at intake, and trials a test day."""

    weeks: float
    every: float
    twice: bool
    trials: int

    @property
    def at(self) -> Floats:
        """The weeks since arrival of every test, the first and the last day of the stay among them, (n,)."""
        days = np.append(np.arange(0.0, self.weeks - 0.5 * self.every, self.every), self.weeks)
        return np.sort(np.append(days, AGAIN_DAYS / 7.0)) if self.twice else days


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionNoise:
    """What a test day's number varies by, and its trials, in the measure's unit."""

    session: float  # typical error with `trials` trials
    trial: float
    trials: float
    summary: SummaryRule

    def between_days(self) -> float:
        """SD between days that no number of trials takes away."""
        return sqrt(max(self.session**2 - self._of_trials(self.trials) ** 2, 0.0))

    def with_trials(self, trials: int) -> float:
        """SD of a test day's number from so many trials; as it is where the number is not their middle."""
        return hypot(self.between_days(), self._of_trials(trials))

    def _of_trials(self, n: float) -> float:
        if self.summary not in (SummaryRule.MEDIAN, SummaryRule.MEAN):
            return 0.0
        return self.trial * sqrt((pi / 2.0 if self.summary is SummaryRule.MEDIAN and n > 2.0 else 1.0) / n)


def give_or_take(athletes: int) -> float:
    """How far a share may be off for being that of so few made athletes: 1.96 binomial errors of one half at most."""
    return 1.96 * sqrt(0.25 * len(SIZES) / (CAMPS * athletes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a plan of tests lets us see: shares of athletes called clearly better by the end, per size of change."""

    plan: Schedule
    sessions: int
    noise: float  # SD of a test day's number under the plan
    found: tuple[float, ...]  # for `SIZES` above zero
    false: float  # of athletes who do not change, ever called clear, either way
    athletes: int  # in a camp


def seen(plan: Schedule, noise: SessionNoise, athletes: int, measure: Measure, seed: int = 1) -> Seen:
    """Return what `plan` lets us see in camps of so many athletes.

    Raises ValueError below four sessions or eight athletes.
    """
    weeks, sd = plan.at, noise.with_trials(plan.trials)
    if len(weeks) < FEWEST_SESSIONS:
        raise ValueError(f"tests: {len(weeks)} in {plan.weeks:g} weeks; a verdict needs {FEWEST_SESSIONS}")
    if athletes < 8:
        raise ValueError(f"athletes: {athletes}; noise and first day are learned from 8 at least")
    rng = np.random.default_rng(seed)
    size = np.resize(np.array(SIZES), (CAMPS, athletes))
    gain, anything = [], []
    for camp in range(CAMPS):
        value = size[camp][:, None] * noise.session * weeks / weeks[-1] + rng.normal(
            0.0, sd, (athletes, len(weeks))
        )
        z = np.stack([
            _deviates(value[:, :n], weeks[:n], measure) for n in range(FEWEST_SESSIONS, len(weeks) + 1)
        ])
        limit = np.array([clear_at(n, len(weeks)) for n in range(FEWEST_SESSIONS, len(weeks) + 1)])[:, None]
        gain.append((z > limit).any(axis=0))
        anything.append((np.abs(z) > limit).any(axis=0))
    found, flagged, sizes = np.concatenate(gain), np.concatenate(anything), size.ravel()
    return Seen(
        plan=plan,
        sessions=len(weeks),
        noise=sd,
        found=tuple(float(found[sizes == one].mean()) for one in SIZES[1:]),
        false=float(flagged[sizes == 0.0].mean()),
        athletes=athletes,
    )


def _deviates(value: Floats, weeks: Floats, measure: Measure) -> Floats:
    """The normal deviate of each athlete's change (athletes,) from values (athletes, sessions) so far."""
    n, k = value.shape
    frame = pd.DataFrame({
        "stay_id": np.repeat([f"{one:04}" for one in range(n)], k),
        "t": np.tile(weeks, n),
        "value": value.ravel(),
        "first": np.tile(np.arange(k) == 0, n),
        "shift_se": 0.0,
    })
    course = tested_course(frame)
    tested = lines_tested(frame, course, pool_of(frame, course), measure, None)
    ratio = tested.lines.change / tested.standard_error
    return np.array([normal_z(float(r), float(d)) for r, d in zip(ratio, tested.degrees, strict=True)])
