"""How often a trend that is looked at after every session is ever called clear: by simulation.

The thresholds of `verdict.clear_at` follow from the error rate and the sessions planned; the shares that
`docs/methods.md` gives are those of the default seed and are printed by

    python -c "from tests.bench.looks import *; print(looks_study())"
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from latewood.pipeline.stats.change.trend import tested_course
from latewood.pipeline.stats.change.verdict import FEWEST_SESSIONS, clear_at, normal_z
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.engine.own_lines import (
    fit_own_lines,
    fit_pieces,
    intake_effect,
    moderated,
    pooled_noise,
)

# The sessions of the study, in mph; sizes as seen in camps, no published source.
SESSION_SD: Final = 1.2
TRIAL_SD: Final = 2.3
TRIALS: Final = 7
MISHITS: Final = 0.04  # of the trials, 8 to 20 mph slower
BAD_INTAKE: Final = 2.0  # on the intake day, 30 % of the athletes
MOST_SESSIONS: Final = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class LooksStudy:
    """Shares of stays ever called clear up to so many sessions, a look after each from the fourth on."""

    n_stays: int  # of athletes without change
    ever: Mapping[int, float]  # sessions -> either way
    ever_up: Mapping[int, float]
    ever_down: Mapping[int, float]
    found: Mapping[int, float]  # sessions -> share of the athletes who gain called so at that look


def looks_study(
    *,
    n_camps: int = 60,
    athletes: int = 40,
    still: float = 1.0,
    weeks_apart: float = 1.0,
    seed: int = 20330105,
    planned: int = MOST_SESSIONS,
    threshold: Callable[[int, int], float] = clear_at,
) -> LooksStudy:
    """Return what looks after every session do in camps in which a share of the athletes does not change.

    Two baseline days, then a session every `weeks_apart`, as many as are `planned`. Those who change gain as in an
    ordinary camp. Noise and intake day are learned from the camp, as it is at each look.
    """
    rng = np.random.default_rng(seed)
    weeks = np.append([0.0, 0.2], weeks_apart * np.arange(1, planned - 1))
    camps = [_one_camp(rng, athletes, weeks, still) for _ in range(n_camps)]
    z = np.concatenate([deviates for deviates, _ in camps], axis=1)
    unchanged = np.concatenate([changes for _, changes in camps]) == 0.0
    lengths = range(FEWEST_SESSIONS, planned + 1)
    limit = np.array([threshold(n, planned) for n in lengths])[:, None]
    up, down = z > limit, z < -limit
    return LooksStudy(
        n_stays=int(unchanged.sum()),
        ever={n: _ever(up | down, n, unchanged) for n in lengths},
        ever_up={n: _ever(up, n, unchanged) for n in lengths},
        ever_down={n: _ever(down, n, unchanged) for n in lengths},
        found={}
        if unchanged.all()
        else {n: float(up[n - FEWEST_SESSIONS, ~unchanged].mean()) for n in lengths},
    )


def _one_camp(rng: np.random.Generator, n: int, weeks: Floats, still: float) -> tuple[Floats, Floats]:
    """Return the normal deviates (look, athlete) and the size of each athlete's course, 0 without change."""
    size = (rng.random(n) >= still).astype(float)
    course = rng.normal(1.0, 0.7, (n, 1)) * np.log1p(weeks / 3.0)
    course += 0.27 * rng.normal(0.45, 0.22, (n, 1)) * 30.0 * (1.0 - np.exp(-weeks / 30.0))
    trials = rng.normal(0.0, TRIAL_SD, (n, weeks.size, TRIALS))
    trials -= (rng.random(trials.shape) < MISHITS) * rng.uniform(8.0, 20.0, trials.shape)
    value = rng.normal(82.0, 6.0, (n, 1)) + size[:, None] * course + np.median(trials, axis=2)
    value += rng.normal(0.0, SESSION_SD, value.shape)
    value[:, 0] -= BAD_INTAKE * (rng.random(n) < 0.3)
    looks = [_deviates(value[:, :k], weeks[:k]) for k in range(FEWEST_SESSIONS, weeks.size + 1)]
    return np.stack(looks), size


def _deviates(value: Floats, weeks: Floats) -> Floats:
    """Return the normal deviate of each athlete's own line through the sessions (athlete, session) so far."""
    n, k = value.shape
    frame = pd.DataFrame({
        "stay_id": np.repeat(np.arange(n), k),
        "t": np.tile(weeks, n),
        "value": value.ravel(),
        "first": np.tile(np.arange(k) == 0, n),
        "shift_se": 0.0,
    })
    course = tested_course(frame)
    intake = intake_effect(fit_pieces(frame, course))
    lines = fit_own_lines(frame, intake, course)
    noise = pooled_noise(lines, intake is not None)
    if noise is None:
        return np.zeros(n)
    variance, degrees = moderated(lines, noise, 0.0)
    ratio = lines.slope / np.sqrt(variance * lines.slope_variance)
    return np.array([normal_z(float(r), float(d)) for r, d in zip(ratio, degrees, strict=True)])


def _ever(flags: np.ndarray, sessions: int, among: np.ndarray) -> float:
    return float(flags[: sessions - FEWEST_SESSIONS + 1, among].any(axis=0).mean())
