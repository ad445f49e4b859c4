"""The true course of every athlete, day by day, before any measurement error."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from saltmarsh import academy as a
from saltmarsh.holds import Hold, draw_holds
from saltmarsh.people import Person
from saltmarsh.story import Path

Series = npt.NDArray[np.float64]
_AXIS = np.arange(a.N_DAYS, dtype=float)


@dataclass(slots=True, kw_only=True)
class Course:
    """True values by measure and day. Keys are short names; units kg, cm, s, mph, m and counts."""

    values: dict[str, Series]
    mass_per_exit: float
    mass_rates: dict[str, float]
    stalls: dict[str, tuple[int, int]]
    holds: dict[str, Hold]

    def at(self, key: str, on: date) -> float:
        """The true value of that day."""
        return float(self.values[key][(on - a.ORIGIN).days])


def build_course(person: Person, rng: np.random.Generator, rng_holds: np.random.Generator) -> Course:
    """The whole course of one athlete; story paths replace the drawn ones, holds have random numbers of their own."""
    male = person.sex == "male"
    first = (person.stays[0].arrived_on - a.ORIGIN).days
    age = person.age(a.ORIGIN) + _AXIS / 365.25
    height = _height(person, age, first, rng)
    mass, rates, stalls, deviation = _mass(person, age, height, first, rng)
    holds = draw_holds(person, stalls, rng_holds)
    mass = mass + _held(person, holds)
    strength = _strength(person, float(age[first]), deviation, first, rng)
    weeks_in = np.cumsum(_in_camp(person)) / 7
    change = _Change(
        mass=mass - mass[first],
        strength=strength - strength[first],
        weeks=weeks_in,
        months=(_AXIS - first) / 30.44,
    )
    older = float(age[first]) - 15.5
    values = {"height": height, "mass": mass, "trapbar": strength}
    values["bench"] = (0.52 if male else 0.42) * strength + rng.normal(0, 4)
    values["sitting"] = height * (
        rng.normal(0.522, 0.01)
        if person.story is None or not person.story.sitting
        else person.story.sitting / height[first]
    )
    values["wingspan"] = height * rng.normal(1.012 if male else 1.0, 0.018)
    per_kg = float(rng.normal(a.EXIT_PER_KG[person.sport], a.EXIT_PER_KG_SPREAD))
    values["exit"] = _exit(person, age, deviation, older, per_kg, change, rng)
    values |= _throws(person, older, deviation, change, rng)
    values |= _sprints(male, older, change, rng)
    values |= _jumps(male, older, change, strength, rng)
    if person.story:
        values |= _sentence(person)
    return Course(values=values, mass_per_exit=per_kg, mass_rates=rates, stalls=stalls, holds=holds)


def _held(person: Person, holds: dict[str, Hold]) -> Series:
    """Kg that holds keep the mass off its course, by day."""
    starts = {stay.camp.key: (stay.arrived_on - a.ORIGIN).days for stay in person.stays}
    return sum((hold.path(_AXIS - starts[camp]) for camp, hold in holds.items()), np.zeros(a.N_DAYS))


def _sentence(person: Person) -> dict[str, Series]:
    """The courses that a story's session values replace, straight between them."""
    reported = {}
    for (camp, key), days in (person.story.sessions if person.story else {}).items():
        start = next(s.arrived_on for s in person.stays if s.camp.key == camp)
        reported[key] = np.interp(_AXIS - (start - a.ORIGIN).days, list(days), list(days.values()))
    return reported


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    """Change since the first arrival: mass and strength in kg, weeks in camps, months of life."""

    mass: Series
    strength: Series
    weeks: Series
    months: Series


def _in_camp(person: Person) -> Series:
    inside = np.zeros(a.N_DAYS)
    for stay in person.stays:
        until = stay.exit_on or stay.planned_until
        inside[(stay.arrived_on - a.ORIGIN).days : (until - a.ORIGIN).days] = 1.0
    return inside


def _path(path: Path, person: Person) -> Series:
    assert person.story is not None
    start = next(s.arrived_on for s in person.stays if s.camp.key == person.story.path_camp)
    days = _AXIS - (start - a.ORIGIN).days
    return np.interp(days, [d for d, _ in path], [v for _, v in path])


def _height(person: Person, age: Series, first: int, rng: np.random.Generator) -> Series:
    male = person.sex == "male"
    start = (170 + 2.6 * (age[first] - 15.5) if male else 163 + 1.0 * (age[first] - 15.5)) + rng.normal(0, 6)
    pace = float(
        np.clip(rng.uniform(0, 0.6) * np.clip(((17.6 if male else 15.8) - age[first]) / 3.0, 0, 1), 0, 0.6)
    )
    per_month = pace * np.exp(-np.clip(age - age[first], 0, None) / 1.3)
    drawn = start + np.cumsum(per_month / 30.44) - np.cumsum(per_month / 30.44)[first]
    return _path(person.story.height, person) if person.story else drawn


def _mass(
    person: Person, age: Series, height: Series, first: int, rng: np.random.Generator
) -> tuple[Series, dict[str, float], dict[str, tuple[int, int]], float]:
    male = person.sex == "male"
    norm = 170 + 2.6 * (age[first] - 15.5) if male else 163 + 1.0 * (age[first] - 15.5)
    typical = (68 + 4.2 * (age[first] - 15.5)) if male else (61 + 2.0 * (age[first] - 15.5))
    start = typical + 0.55 * (height[first] - norm) + rng.normal(0, 7 if male else 6)
    start = max(float(start), 17.0 * float(height[first] / 100) ** 2)
    rates, stalls, step = _mass_steps(person, rng)
    growth = start * ((height / height[first]) ** 2.5 - 1)
    in_camp = _in_camp(person) > 0
    step = step + np.where(in_camp, 0.0, np.gradient(growth))
    drawn = start + np.cumsum(step) - np.cumsum(step)[first] + _wander(rng)
    mass = _path(person.story.mass, person) if person.story else drawn
    return mass, rates, stalls, float(mass[first] - typical)


def _mass_steps(
    person: Person, rng: np.random.Generator
) -> tuple[dict[str, float], dict[str, tuple[int, int]], Series]:
    """Daily gain without growth between camps: camp rates, stalls of some planned athletes, off-season drift."""
    step = np.full(a.N_DAYS, rng.normal(*a.MASS_OFF) / 7)
    rates, stalls = {}, {}
    for stay in person.stays:
        begin, end = (stay.arrived_on - a.ORIGIN).days, (stay.planned_until - a.ORIGIN).days
        rate = float(rng.normal(*(a.MASS_RATE_PLAN if stay.planned else a.MASS_RATE_FREE)))
        step[begin:end] = rate / 7
        rates[stay.camp.key] = rate
        if stay.planned and rng.random() < 0.2:
            at, length = int(rng.integers(14, 30)), int(rng.integers(21, 43))
            step[begin + at : begin + at + length] = 0.0
            stalls[stay.camp.key] = (at, at + length)
    return rates, stalls, step


def _wander(rng: np.random.Generator) -> Series:
    keep = np.exp(-1 / a.MASS_WANDER_DAYS)
    noise = rng.normal(0, a.MASS_WANDER_SD * np.sqrt(1 - keep**2), a.N_DAYS)
    noise[0] = rng.normal(0, a.MASS_WANDER_SD)
    for day in range(1, a.N_DAYS):
        noise[day] += keep * noise[day - 1]
    return noise


def _strength(person: Person, age: float, deviation: float, first: int, rng: np.random.Generator) -> Series:
    base = (118 if person.sex == "male" else 84) + 0.9 * deviation + 6 * (age - 15.5) + rng.normal(0, 12)
    base = max(base, 45.0)
    step = np.full(a.N_DAYS, rng.normal(*a.STRENGTH_OFF) / 7)
    for stay in person.stays:
        begin, end = (stay.arrived_on - a.ORIGIN).days, (stay.planned_until - a.ORIGIN).days
        step[begin:end] = rng.normal(*a.STRENGTH_RATE) / 7
    drawn = np.maximum(base + np.cumsum(step) - np.cumsum(step)[first], base - 8)
    return _path(person.story.strength, person) if person.story else drawn


def _exit(
    person: Person,
    age: Series,
    deviation: float,
    older: float,
    per_kg: float,
    change: _Change,
    rng: np.random.Generator,
) -> Series:
    male = person.sex == "male"
    base = (76 + 2.6 * older if male else 58 + 1.56 * older) + 0.28 * deviation + rng.normal(0, 4.5)
    own = np.maximum(0.40 - 0.07 * (age - 13.5), 0.05)
    growth = np.cumsum(own / 30.44)
    growth = growth - np.interp(0.0, change.months, growth)
    practice = rng.normal(*a.EXIT_PRACTICE) * change.weeks
    return (
        base
        + per_kg * change.mass
        + a.EXIT_PER_STRENGTH_KG[person.sport] * change.strength
        + growth
        + practice
    )


def _throws(
    person: Person, older: float, deviation: float, change: _Change, rng: np.random.Generator
) -> dict[str, Series]:
    male = person.sex == "male"
    base = (75 + 2.2 * older if male else 56 + 1.2 * older) + 0.15 * deviation + rng.normal(0, 3.5)
    base += {"outfield": 2.0, "infield": 0.0, "catcher": -3.5}[person.role]
    course = base + a.THROW_PER_KG * change.mass + a.THROW_PER_STRENGTH_KG * change.strength
    course = course + rng.normal(*a.THROW_PRACTICE) * change.weeks + 0.08 * change.months
    pitch = course + (2.0 if male else -1.5)
    pop = (2.12 if male else 2.35) - 0.012 * (course - (72 if male else 55))
    return {"throw": course, "pitch": pitch, "pop": pop}


def _sprints(male: bool, older: float, change: _Change, rng: np.random.Generator) -> dict[str, Series]:
    base = (7.45 - 0.14 * older if male else 8.35 - 0.12 * older) + rng.normal(0, 0.24)
    course = base + a.SPRINT60_PER_KG * change.mass + a.SPRINT60_PER_STRENGTH_KG * change.strength
    course = course + a.SPRINT60_PRACTICE * change.weeks
    ten = (
        (1.68 if male else 1.86)
        + a.SPLIT_SHARE[10] * (course - (7.45 if male else 8.35))
        + rng.normal(0, 0.035)
    )
    thirty = (
        (4.02 if male else 4.46)
        + a.SPLIT_SHARE[30] * (course - (7.45 if male else 8.35))
        + rng.normal(0, 0.05)
    )
    return {"sprint60": course, "sprint30": thirty, "sprint10": ten}


def _jumps(
    male: bool, older: float, change: _Change, strength: Series, rng: np.random.Generator
) -> dict[str, Series]:
    within = (
        a.CMJ_PER_KG * change.mass + a.CMJ_PER_STRENGTH_KG * change.strength + a.CMJ_PRACTICE * change.weeks
    )
    power = rng.normal(0, 1)
    cmj = (44 + 2.6 * older if male else 34 + 1.2 * older) + 4.5 * power + within
    broad = (208 + 8 * older if male else 174 + 4 * older) + 11 * power + rng.normal(0, 7) + 2.2 * within
    ball = (
        (8.6 + 0.5 * older if male else 6.3 + 0.25 * older)
        + rng.normal(0, 0.8)
        + 0.05 * change.mass
        + 0.01 * change.strength
    )
    pull = np.clip((7 if male else 3) + rng.normal(0, 3) + 0.12 * change.strength - 0.3 * change.mass, 0, 25)
    grip = (0.30 if male else 0.27) * strength + rng.normal(8, 2.5)
    return {"cmj": cmj, "broad": broad, "medball": ball, "pullups": pull, "grip": grip}
