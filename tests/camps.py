"""Simulated camps with known truth, for calibration tests of the statistics.

Everything is drawn from the generator that is handed in, so a seed gives the same camp on every machine.
Values are in canonical units (exit speed in m/s, strength and mass in kg, splits in s, jumps in cm).
The constants are assumptions of the study, not published norms.

Use: `camp = simulate_camp(np.random.default_rng(7), n=40)`; then `camp.session_values`, `camp.mass_trend`,
`camp.people`, `camp.stays`, `camp.weighins` are frames with the columns of the warehouse, and `camp.truth`,
`camp.ability` hold what was planted. `join_camps` puts several camps into one program.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from tests.camp_mass import draw_weighins, no_weighins, smooth_mass_trend
from tests.camp_paths import (
    BODY_MASS,
    DAYS,
    EXIT_SPEED,
    JUMP,
    MPH,
    NO_EFFECT,
    OPPOSITE_SIGNS,
    SPRINT,
    STRENGTH,
    STRENGTH_PER_KG,
    Process,
    ability_paths,
    draw_build,
    mass_paths,
    mishits,
    standardised,
    strength_paths,
    wander,
    weeks_stayed,
)
from tests.camp_sessions import (
    days_of_tests,
    mass_sessions,
    output_sessions,
    people_table,
    stays_table,
    strength_sessions,
    with_second_day,
)

UNTOLD_SD = 0.3  # kg of true mass that weigh-ins do not tell

__all__ = [
    "BODY_MASS",
    "DAYS",
    "EXIT_SPEED",
    "JUMP",
    "MPH",
    "NO_EFFECT",
    "OPPOSITE_SIGNS",
    "SPRINT",
    "STRENGTH",
    "STRENGTH_PER_KG",
    "Camp",
    "Process",
    "join_camps",
    "simulate_camp",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Camp:
    """One simulated camp. `ability` is (athletes, days) without session noise; row order is `truth`'s."""

    camp_id: str
    process: Process
    people: pd.DataFrame
    stays: pd.DataFrame
    weighins: pd.DataFrame
    session_values: pd.DataFrame
    mass_trend: pd.DataFrame
    truth: pd.DataFrame
    ability: np.ndarray
    mass: np.ndarray
    strength: np.ndarray

    def true_value(self, stay_ids: pd.Series, days: np.ndarray) -> np.ndarray:
        """The planted value of those stays that many days after arrival, without session noise."""
        rows = pd.Index(self.truth["stay_id"]).get_indexer(stay_ids)
        return self.ability[rows, days]

    def new_session(self, rng: np.random.Generator, stay_ids: pd.Series, days: np.ndarray) -> np.ndarray:
        """A fresh session value of those stays that many days after arrival (median of seven trials)."""
        p = self.process
        seven = rng.normal(0, p.trial_sd, (len(days), 7)) + mishits(rng, p, (len(days), 7))
        return self.true_value(stay_ids, days) + rng.normal(0, p.session_sd, len(days)) + np.median(seven, 1)


def simulate_camp(
    rng: np.random.Generator,
    *,
    n: int = 40,
    process: Process = EXIT_SPEED,
    camp_id: str = "C1",
    starts_on: date = date(2031, 1, 6),
    stay_weeks: tuple[float, float] = (4, 40),
    test_gap_days: tuple[int, int] = (10, 24),
    straight_line: bool = False,
    restarts: bool = False,
    bad_day_share: float = 0.3,
    weighins_per_week: tuple[int, int] = (2, 7),
    unit_slip_share: float = 0.0,
    early_leavers: float = 0.2,
    strength_test_sd: float = 4.0,
    weigh: bool = True,
    with_mass_values: bool = False,
    twice_at_intake: bool = False,
) -> Camp:
    """One camp: athletes arrive over three weeks, gain, are tested every few weeks, and leave.

    `straight_line` lets everybody gain at one constant rate, so that mass and time cannot be separated; with
    `restarts` everybody gains, holds for 4 to 6 weeks and gains again, each from a phase of their own.
    The mass trend is that of an ideal smoother: true mass moves around it with SD `UNTOLD_SD`. Hand the
    weigh-ins to the real filter to test both together; `weigh=False` leaves them out.
    `twice_at_intake` tests everybody's output again three days after the first time.
    `with_mass_values` adds each weigh-in to the session values as a session of body mass.
    """
    build = draw_build(rng, n)
    rate = rng.normal(0.45, 0.02 if straight_line else 0.22, n)
    smooth = mass_paths(rng, build["mass0"].to_numpy(), rate, straight_line=straight_line, restarts=restarts)
    mass = smooth + wander(rng, n, UNTOLD_SD, 10.0)
    added = mass - mass[:, :1]
    strength = strength_paths(rng, build, added)
    talent = rng.normal(0, 1, n)
    ability, effect, gain = ability_paths(rng, process, build, added, strength)
    weeks = rng.uniform(*stay_weeks, n)
    leaves = weeks_stayed(rng, weeks, 0.5 * standardised(gain) + 0.5 * standardised(rate), early_leavers)
    arrival = np.datetime64(starts_on) + rng.integers(0, 21, n)
    ids = np.array([f"{camp_id}-A{i:04d}" for i in range(n)])
    frame = pd.DataFrame({
        "athlete_id": ids,
        "stay_id": [f"{a}@{camp_id}" for a in ids],
        "camp_id": camp_id,
        "arrival": arrival,
        "last_day": np.floor(7 * leaves).astype(int),
        "planned_day": np.floor(7 * weeks).astype(int),
        "per_kg": effect,
        "rate": rate,
        "age": build["age"],
        "height": build["height"],
        "talent": talent,
    })
    tests = days_of_tests(rng, frame["last_day"].to_numpy(), test_gap_days)
    tests = with_second_day(tests) if twice_at_intake else tests
    output = output_sessions(rng, process, frame, ability, tests, bad_day_share)
    lifts = strength_sessions(rng, frame, strength, strength_test_sd)
    weighins = draw_weighins(rng, frame, mass, weighins_per_week, unit_slip_share) if weigh else no_weighins()
    values = [output, lifts, mass_sessions(frame, weighins)] if with_mass_values else [output, lifts]
    return Camp(
        camp_id=camp_id,
        process=process,
        people=people_table(frame),
        stays=stays_table(frame, leaves < weeks),
        weighins=weighins,
        session_values=pd.concat(values, ignore_index=True),
        mass_trend=smooth_mass_trend(frame, smooth, UNTOLD_SD),
        truth=frame,
        ability=ability,
        mass=mass,
        strength=strength,
    )


def join_camps(*camps: Camp) -> Camp:
    """Several camps as one program; all of one process."""
    frames = ("people", "stays", "weighins", "session_values", "mass_trend", "truth")
    joined = {f: pd.concat([getattr(c, f) for c in camps], ignore_index=True) for f in frames}
    paths = {a: np.vstack([getattr(c, a) for c in camps]) for a in ("ability", "mass", "strength")}
    return Camp(camp_id="program", process=camps[0].process, **joined, **paths)
