"""What a simulated camp is made of: the process of an output, and every athlete's planted paths."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

MPH = 0.44704
STRENGTH = "trap_bar_deadlift"
BODY_MASS = "body_mass"
STRENGTH_PER_KG = 2.0  # kg of strength that come with each kg of added mass
DAYS = 7 * 46  # length of every planted path


@dataclass(frozen=True, slots=True, kw_only=True)
class Process:
    """How one output comes about; all in the measure's canonical unit."""

    measure: str
    line: str
    level: float  # at 16 years, 175 cm, 75 kg, untrained
    per_age: float
    per_height: float
    between_per_kg: float  # across athletes
    spread: float  # SD between athletes of one build
    per_kg: float  # mean direct effect of one's own added kg
    per_kg_sd: float
    per_strength: float  # effect of one kg of one's own added strength
    learning: float  # mean gain per unit of the time form, at equal mass
    learning_sd: float
    learning_scale: float = 3.0  # weeks; log1p(t / scale)
    learning_form: str = "log"  # "log" | "linear" | "none"
    session_sd: float
    trial_sd: float
    bad_day: float  # shift of an intake after a travel day
    mishit_share: float = 0.0
    mishit: tuple[float, float] = (0.0, 0.0)

    @property
    def total_per_kg(self) -> float:
        """The planted total effect of one own kg: direct, and through the strength that comes with it."""
        return self.per_kg + self.per_strength * STRENGTH_PER_KG

    def with_total(self, total: float) -> Process:
        """The same process with another total effect per own kg."""
        return replace(self, per_kg=total - self.per_strength * STRENGTH_PER_KG)


EXIT_SPEED = Process(
    measure="exit_speed",
    line="delivery=tee; bat=metal; ball=baseball; device=radar",
    level=78 * MPH,
    per_age=1.8 * MPH,
    per_height=0.05 * MPH,
    between_per_kg=0.45 * MPH,
    spread=4 * MPH,
    per_kg=0.15 * MPH,
    per_kg_sd=0.08 * MPH,
    per_strength=0.06 * MPH,
    learning=1.0 * MPH,
    learning_sd=0.7 * MPH,
    session_sd=1.2 * MPH,
    trial_sd=2.3 * MPH,
    bad_day=-2.0 * MPH,
    mishit_share=0.04,
    mishit=(-20 * MPH, -8 * MPH),
)
SPRINT = Process(
    measure="sprint_60yd",
    line="timing=electronic; start=first motion; surface=turf",
    level=7.4,
    per_age=-0.08,
    per_height=-0.002,
    between_per_kg=0.012,
    spread=0.22,
    per_kg=0.024,
    per_kg_sd=0.008,
    per_strength=-0.002,
    learning=-0.06,
    learning_sd=0.04,
    session_sd=0.05,
    trial_sd=0.05,
    bad_day=0.08,
)
JUMP = Process(
    measure="countermovement_jump",
    line="",
    level=38.0,
    per_age=1.4,
    per_height=0.0,
    between_per_kg=-0.1,
    spread=4.5,
    per_kg=-0.1,
    per_kg_sd=0.1,
    per_strength=0.12,
    learning=0.8,
    learning_sd=0.6,
    session_sd=1.2,
    trial_sd=1.2,
    bad_day=-1.5,
)
# Heavier athletes hit harder, but one's own added mass slows the bat: the two slopes have opposite signs.
OPPOSITE_SIGNS = EXIT_SPEED.with_total(-0.3 * MPH)
NO_EFFECT = EXIT_SPEED.with_total(0.0)


def standardised(x: np.ndarray) -> np.ndarray:
    return (x - x.mean()) / x.std()


def draw_build(rng: np.random.Generator, n: int) -> pd.DataFrame:
    age = rng.uniform(13.5, 18.8, n)
    height = 150 + 14.725 * np.log1p(age - 12.5) + rng.normal(0, 6, n)
    bmi = np.maximum(17, rng.normal(21 + 0.55 * (age - 13.5), 2.4))
    return pd.DataFrame({"age": age, "height": height, "mass0": bmi * (height / 100) ** 2})


def wander(rng: np.random.Generator, n: int, sd: float, days: float) -> np.ndarray:
    """A slow wander around zero: (n, DAYS), stationary SD `sd`, memory `days`."""
    keep = np.exp(-1 / days)
    steps = rng.normal(0, sd * np.sqrt(1 - keep**2), (n, DAYS))
    steps[:, 0] = rng.normal(0, sd, n)
    for d in range(1, DAYS):
        steps[:, d] += keep * steps[:, d - 1]
    return steps


def mass_paths(
    rng: np.random.Generator,
    mass0: np.ndarray,
    rate: np.ndarray,
    *,
    straight_line: bool,
    restarts: bool = False,
) -> np.ndarray:
    """Mass (n, DAYS). With `restarts` everybody gains twice as fast, holds for half the time, and begins again."""
    n, weeks = len(mass0), np.arange(DAYS) / 7
    slow, stalled = wander(rng, n, 0.5, 28.0), rng.random(n) < 0.25
    begin, length = rng.uniform(3, 15, n), rng.uniform(3, 6, n)
    if straight_line:
        return mass0[:, None] + rate[:, None] * weeks
    moving = np.exp(-weeks / 30)[None, :].repeat(n, 0)
    inside = (weeks >= begin[:, None]) & (weeks < (begin + length)[:, None]) & stalled[:, None]
    moving[inside] = 0.0
    if restarts:
        phase, half = rng.uniform(0, 1, n), rng.uniform(4, 6, n)
        moving = moving * 2.0 * ((weeks / (2.0 * half[:, None]) + phase[:, None]) % 1.0 < 0.5)
    gained = np.cumsum(rate[:, None] * moving / 7, axis=1)
    return mass0[:, None] + gained - gained[:, :1] + slow


def strength_paths(rng: np.random.Generator, build: pd.DataFrame, added: np.ndarray) -> np.ndarray:
    n, weeks = len(build), np.arange(DAYS) / 7
    start = 110 + 8 * (build["age"] - 16) + 1.1 * (build["mass0"] - 75) + rng.normal(0, 14, n)
    learning = rng.normal(8, 4, n)
    return start.to_numpy()[:, None] + STRENGTH_PER_KG * added + learning[:, None] * np.log1p(weeks / 4)


def time_form(process: Process) -> np.ndarray:
    weeks = np.arange(DAYS) / 7
    if process.learning_form == "log":
        return np.log1p(weeks / process.learning_scale)
    return weeks / 10 if process.learning_form == "linear" else np.zeros(DAYS)


def ability_paths(
    rng: np.random.Generator, p: Process, build: pd.DataFrame, added: np.ndarray, strength: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    n = len(build)
    start = p.level + p.per_age * (build["age"] - 16) + p.per_height * (build["height"] - 175)
    start = start + p.between_per_kg * (build["mass0"] - 75) + rng.normal(0, p.spread, n)
    effect, gain = rng.normal(p.per_kg, p.per_kg_sd, n), rng.normal(p.learning, p.learning_sd, n)
    moved = effect[:, None] * added + p.per_strength * (strength - strength[:, :1])
    paths = start.to_numpy()[:, None] + moved + gain[:, None] * time_form(p)
    return paths, effect + p.per_strength * STRENGTH_PER_KG, gain


def weeks_stayed(rng: np.random.Generator, weeks: np.ndarray, gain: np.ndarray, share: float) -> np.ndarray:
    """Weeks until each leaves: those who gain less leave early more often."""
    early = rng.random(len(weeks)) < np.clip(share * np.exp(-gain), 0, 0.9)
    return np.where(early & (weeks > 8), weeks * rng.uniform(0.4, 0.8, len(weeks)), weeks)


def mishits(rng: np.random.Generator, p: Process, shape: tuple[int, int]) -> np.ndarray:
    return np.where(rng.random(shape) < p.mishit_share, rng.uniform(*p.mishit, shape), 0.0)
