"""A program that hands in files only; what was planted stays here and never enters the data folder.

Nothing of the other studies' processes is used: courses, masses, plans and noise are drawn by their own rules.
Exit speed moves with mass (.25 mph per kg), with strength (.04 mph per kg lifted, and every kg of mass brings 1 kg of
strength, so .29 in all) and with practice that levels off. Throw speed changes for nobody. The 60-yard time
falls with practice and rises .012 s with every kg.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

START = date(2041, 6, 3)  # a Monday
PAST = START - timedelta(weeks=52)
DAYS = 77
PER_KG, PER_STRENGTH, STRENGTH_PER_KG = 0.25, 0.04, 1.0
TOTAL_PER_KG = PER_KG + PER_STRENGTH * STRENGTH_PER_KG
SPRINT_PER_KG = 0.012
PLANNED, PLAN_DAYS, STALLED_FROM = 0.0035, 70, 21  # share of body mass a week; days
TEST_DAYS = (0, 2, 14, 28, 42, 56, 70)
LONG = (
    "athlete,measured_on,measure,value,unit,trial,"
    "state,delivery,bat,ball,device,role,approach,timing,start,surface,handles"
)
WORDS = {
    "exit_speed": ("mph", ",tee,metal,baseball,radar,,,,,,"),
    "throw_speed": ("mph", ",,,baseball,radar,infield,shuffle,,,,"),
    "sprint_60yd": ("s", ",,,,,,,electronic,foot lift,turf,"),
    "trap_bar_deadlift": ("kg", ",,,,,,,,,,high"),
    "body_mass": ("kg", "fasted,,,,,,,,,,"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What was planted: one row an athlete, one column a day since the start."""

    athletes: list[str]
    mass: np.ndarray
    ability: dict[str, np.ndarray]
    plan: np.ndarray  # '', 'on plan' or 'stalled'
    begins: date

    def at(self, measure: str, athlete: str, day: date) -> float:
        return float(self.ability[measure][self.athletes.index(athlete), (day - self.begins).days])


@dataclass(frozen=True, slots=True, kw_only=True)
class Handed:
    """The files as a camp would hand them in, and the truth kept apart."""

    people: dict[str, str]
    readings: pd.DataFrame  # day, line
    truth: Truth

    def write(self, inbox: Path, first: int, last: int) -> list[Path]:
        """Write the readings of days `first` to `last` as one file, and the people's files on day 0."""
        inbox.mkdir(parents=True, exist_ok=True)
        made = []
        if first <= 0:
            for name, text in self.people.items():
                made.append(inbox / f"{name}_{self.truth.begins}.csv")
                made[-1].write_text(text, encoding="utf-8")
        chosen = self.readings.loc[self.readings["day"].between(first, last), "line"]
        made.append(inbox / f"readings_{self.truth.begins}_{last:03d}.csv")
        made[-1].write_text(LONG + "\n" + "\n".join(chosen) + "\n", encoding="utf-8")
        return made


def _mass(rng: np.random.Generator, n: int, plan: np.ndarray) -> np.ndarray:
    """Mass by day (n, DAYS + 1): a steady rate and a slow wandering of the rate."""
    day = np.arange(DAYS + 1)
    start = rng.normal(72, 8, n)
    free = rng.normal(0.10, 0.18, n)
    planned = PLANNED * start  # kg a week
    rate = np.where(plan == "", free, planned)[:, None] * np.ones(DAYS + 1)
    rate[plan == "stalled", STALLED_FROM:] = 0.0
    drift = np.cumsum(rng.normal(0, 0.03, (n, DAYS + 1)), axis=1) * (plan == "")[:, None]
    path = np.cumsum((rate + drift) / 7, axis=1)
    return start[:, None] + path - path[:, :1] + 0 * day


def _abilities(rng: np.random.Generator, mass: np.ndarray) -> dict[str, np.ndarray]:
    n, day = len(mass), np.arange(DAYS + 1)
    gained = mass - mass[:, :1]
    own = rng.normal(0.9, 0.7, n)[:, None] * day / 7  # strength on its own, kg a week
    strength = rng.normal(118, 14, n)[:, None] + own + STRENGTH_PER_KG * gained
    level_off = 1 - np.exp(-day / rng.uniform(15, 60, n)[:, None])
    practice = rng.normal(1.6, 1.2, n)[:, None] * level_off
    exit_speed = 76 + rng.normal(0, 4.5, n)[:, None] + PER_KG * gained + practice
    exit_speed = exit_speed + PER_STRENGTH * (strength - strength[:, :1])
    sprint = 7.4 + rng.normal(0, 0.25, n)[:, None] + SPRINT_PER_KG * gained
    sprint = sprint - rng.normal(0.08, 0.05, n)[:, None] * level_off
    throw = np.repeat(rng.normal(72, 5, n)[:, None], DAYS + 1, axis=1)
    return {
        "exit_speed": exit_speed,
        "sprint_60yd": sprint,
        "throw_speed": throw,
        "trap_bar_deadlift": strength,
    }


NOISE = {  # SD of a session, SD of a trial, trials
    "exit_speed": (1.1, 2.5, 10),
    "throw_speed": (0.9, 1.4, 5),
    "sprint_60yd": (0.06, 0.04, 2),
    "trap_bar_deadlift": (3.5, 0.0, 1),
}
DECIMALS = {"exit_speed": 1, "throw_speed": 1, "sprint_60yd": 2, "trap_bar_deadlift": 1, "body_mass": 1}


def _line(athlete: str, begins: date, day: int, measure: str, value: float, trial: int) -> str:
    unit, words = WORDS[measure]
    on = begins + timedelta(days=day)
    return f"{athlete},{on},{measure},{value:.{DECIMALS[measure]}f},{unit},{trial},{words}"


def _tests(
    rng: np.random.Generator,
    names: list[str],
    ability: dict[str, np.ndarray],
    leaves: np.ndarray,
    begins: date,
) -> list[tuple[int, str]]:
    lines = []
    for i, athlete in enumerate(names):
        tired = rng.random() < 0.2  # a bad first day, mph
        for planned in TEST_DAYS:
            day = planned + int(rng.integers(0, 2)) if planned > 2 else planned
            for measure, (session, trial_sd, trials) in NOISE.items():
                if day > leaves[i] or rng.random() < 0.06:
                    continue
                level = ability[measure][i, day] + rng.normal(0, session)
                level -= 1.5 * (tired and day == 0 and measure == "exit_speed")
                values = level + rng.normal(0, trial_sd, trials) if trial_sd else [level]
                lines += [
                    (day, _line(athlete, begins, day, measure, v, t)) for t, v in enumerate(values, start=1)
                ]
    return lines


def _weighins(
    rng: np.random.Generator, names: list[str], mass: np.ndarray, leaves: np.ndarray, begins: date
) -> list[tuple[int, str]]:
    lines = []
    for i, athlete in enumerate(names):
        noise = 0.0
        for day in range(DAYS + 1):
            noise = 0.3 * noise + rng.normal(0, 0.5 * np.sqrt(1 - 0.09))
            if day % 7 < 5 and day <= leaves[i] and rng.random() > 0.12:
                lines.append((day, _line(athlete, begins, day, "body_mass", mass[i, day] + noise, 1)))
    return lines


def _people(rng: np.random.Generator, camp: str, truth: Truth, leaves: np.ndarray) -> dict[str, str]:
    begins, ends = truth.begins, truth.begins + timedelta(days=DAYS)
    roster = ["athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws"]
    stays = ["athlete,camp,arrived_on,left_on,planned_until,leave_reason"]
    plans = [
        "plan_id,athlete,start_on,start_mass,target_on,target_mass,unit,purpose,made_by,approved_by,reason"
    ]
    for i, athlete in enumerate(truth.athletes):
        born = begins - timedelta(days=int(rng.integers(15 * 365 + 10, 18 * 365)))
        roster.append(f"{athlete},Person {athlete},{born},male,baseball,2043,OF,R,R")
        left = begins + timedelta(days=int(leaves[i])) if leaves[i] < DAYS else ""
        stays.append(f"{athlete},{camp},{begins},{left},{ends},{'home' if left else ''}")
        if truth.plan[i]:
            kg = truth.mass[i, 0]
            until = begins + timedelta(days=PLAN_DAYS)
            masses = f"{kg:.1f},{until},{kg * (1 + PLANNED * PLAN_DAYS / 7):.2f}"
            plans.append(
                f"P{athlete},{athlete},{begins},{masses},kg,base,staff,guardian and dietitian,agreed"
            )
    camps = f"camp_id,label,starts_on,ends_on\n{camp},Outside camp {camp},{begins},{ends}\n"
    texts = {"roster": roster, "stays": stays, "plans": plans}
    return {"camps": camps} | {k: "\n".join(v) + "\n" for k, v in texts.items()}


def hand_in(rng: np.random.Generator, n: int = 40, camp: str = "Z", begins: date = START) -> Handed:
    """Draw one camp of `n` athletes over eleven weeks: 3 in 8 gain by plan, 2 in 8 stall, 3 in 8 have no plan."""
    names = [f"{camp}-{i:03d}" for i in range(n)]
    plan = np.array([
        ("on plan", "", "stalled", "", "on plan", "", "stalled", "on plan")[i % 8] for i in range(n)
    ])
    mass = _mass(rng, n, plan)
    ability = _abilities(rng, mass)
    leaves = np.where(rng.random(n) < 0.08, rng.integers(20, 60, n), DAYS)
    lines = _tests(rng, names, ability, leaves, begins) + _weighins(rng, names, mass, leaves, begins)
    readings = pd.DataFrame(sorted(lines, key=lambda pair: pair[0]), columns=["day", "line"])
    truth = Truth(athletes=names, mass=mass, ability=ability, plan=plan, begins=begins)
    return Handed(people=_people(rng, camp, truth, leaves), readings=readings, truth=truth)
