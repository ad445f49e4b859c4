"""Three worlds written down before the other studies' processes were read, and unlike them on purpose.

Each folder is a program of four camps, one after the other, of 8 to 45 athletes and 3 to 30 weeks; who stays how long,
who is tested when, and how noisy each is, differs. Exit speed in mph, body mass in kg; one typical error is about 1.5.

**Steps and relapses.** Output does not grow, it clicks: none to four steps a stay on random days (mean .9 mph each),
flat between; a quarter never change. A third fall ill for ten days: no tests, no weigh-ins, 1.5 mph and 1.8 kg lost,
regained over three and two weeks. A bad day is worse than a good day is good (session noise is a turned gamma, shape
2), own SD log-normal about 1.2 mph (SD of its log .35), trials are skewed too (SD 2), the radar shows whole mph. Mass
comes in pieces: 2 to 5 weeks of gain, 1 to 3 of nothing, Saturday to Monday .5 kg more. A kilogram brings .2 mph.

**A radar that drifts.** What is read is output plus the device's drift, alike for all: a random slope for each 6 to 10
weeks (SD .1 mph a week), then it is set right again. The test is learned: -1.5, -.6, -.2 mph on the first three days,
times .3 to 1.7 by athlete. Thursday to Saturday legs are tired: -.7 mph. Steps of .5 mph. Output comes as an S with a
delay of its own; a fifth never change. Own SD log-normal about 1.1 (SD of its log .2). Mass: the plan's rate, with
weekends. A kilogram brings nothing.

**Growing boys.** Camps of 8 to 20. A third are in a growth spurt, whose bell-shaped pace brings mass (1 to 4 kg in
all) and output (1 to 4 mph in all) in the same weeks; mass itself brings nothing. Tails of a t on 4 degrees, own SD
log-normal about 1.2 (SD of its log .45) and a quarter larger in the second half of a stay, air and balls of the day
move all of that day (SD .5 mph). Half are tested on Mondays, half on Fridays, with a two-week gap for examinations. A
quarter neither grow nor change.

Of the plans a third stand still from a random week on, the others keep the planned rate in the mean of each three
weeks. The bounds (`BOUNDS`) are those of the task and stood here before the first run.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np

SEED = 91501  # (SEED, world, folder); no other study or test draws from it
# Key: lowest and highest value that is promised in each world.
BOUNDS = {
    "change": (0.93, 1.0),  # 95 % interval of an athlete's change, all, and in each third by true noise
    "clear_ever": (0.0, 0.05),  # stays without change ever called clear, a look after each session
    "power": (0.55, 1.0),  # true gain of 2.5 to 3.5 typical errors called a clear gain by the end
    "size": (0.92, 1.0),  # interval of the size where the true change is 2 to 3 typical errors
    "gain": (0.92, 0.98),  # interval of the camp's mean change
    "error": (0.92, 1.0),  # interval of the typical error
    "alarm": (0.0, 0.08),  # plans that are kept, ever flagged
    "found": (0.5, 1.0),  # full stalls flagged within six weeks
    "chance": (-0.06, 0.06),  # chance of the target said less what came
    "rate": (0.92, 1.0),  # interval of the rate, of the weeks that it is shown for
    "projection": (0.92, 0.98),  # interval of a session to come
    "link": (0.92, 0.98),  # interval of the number per kilogram, where one is given
    "told": (0.0, 0.07),  # number per kilogram told from zero where a kilogram brings nothing
}

BEGINS = date(2041, 1, 7)  # a Monday
CAMPS, APART = 4, 231  # camps of a program, days from one start to the next
TRIAL_SD = 2.0
LONG = "athlete,measured_on,measure,value,unit,trial,state,delivery,bat,ball,device"
WEEKEND, FEAST, FEASTS = 0.5, 1.0, 0.04  # kg of food from Saturday to Monday; after a feast, and how often
ON_THE_SCALE = WEEKEND * 3 / 7 + FEAST * FEASTS  # what a weigh-in shows above the body on average
SWUNG, WEIGHED = ",tee,metal,baseball,radar", "fasted,,,,"
Rng = np.random.Generator


@dataclass(slots=True, kw_only=True)
class Person:
    """One stay: what was planted, by day since arrival, to the end of the camp."""

    name: str
    camp: int
    arrives: int  # days after `BEGINS`
    days: int
    noise: float  # own SD of a day
    still: bool  # nothing happens to the output
    output: np.ndarray  # (days of the camp + 1,)
    body: np.ndarray  # the same, without food and water
    away: tuple[int, int]  # first and last day of an illness; (-1, -1) without
    plan: str  # "" | kept | stalled
    percent: float  # planned gain a week
    stalls: int  # day; -1 without
    plan_days: int
    tests: list[int]
    variance: list[float]  # of each test around the output


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """How output and mass go, when it is tested, and what a day's reading is off."""

    name: str
    most: int  # athletes
    resolution: float
    per_kg: float
    live: Callable[[Rng, int, bool], tuple[np.ndarray, np.ndarray, tuple[int, int]]]
    tested: Callable[[Rng, int, int], list[int]]
    noises: Callable[[Rng], float]
    still: float  # share
    pieces: bool = False  # mass in pieces


def _clicks(rng: Rng, days: int, still: bool) -> tuple[np.ndarray, np.ndarray, tuple[int, int]]:
    output, extra, day = np.zeros(days + 1), np.zeros(days + 1), np.arange(days + 1)
    if still:
        return output, extra, (-1, -1)
    for _ in range(rng.integers(0, 5)):
        output += rng.exponential(0.9) * (day >= rng.integers(3, days))
    if days < 30 or rng.random() > 1 / 3:
        return output, extra, (-1, -1)
    first = int(rng.integers(7, days - 14))
    since = day - first - 10
    output -= 1.5 * np.where(since < 0, day >= first, np.clip(1 - since / 21, 0, 1))
    extra -= 1.8 * np.where(since < 0, np.clip((day - first) / 10, 0, 1), np.clip(1 - since / 14, 0, 1))
    return output, extra, (first, first + 9)


def _s_shaped(rng: Rng, days: int, still: bool) -> tuple[np.ndarray, np.ndarray, tuple[int, int]]:
    day, middle, slow = np.arange(days + 1), rng.uniform(0.2, 0.8) * days, rng.uniform(3, 20)
    output = rng.normal(3.0, 1.5) / (1 + np.exp(-(day - middle) / slow))
    return (output - output[0]) * (not still), np.zeros(days + 1), (-1, -1)


def _grows(rng: Rng, days: int, still: bool) -> tuple[np.ndarray, np.ndarray, tuple[int, int]]:
    day, none = np.arange(days + 1), np.zeros(days + 1)
    if still:
        return none, none, (-1, -1)
    learned = rng.normal(1.2, 0.8) * day / 70
    if rng.random() > 4 / 9:  # a third of all
        return learned, none, (-1, -1)
    spurt = 1 / (1 + np.exp(-(day - rng.uniform(0, days)) / rng.uniform(10, 25)))
    spurt = (spurt - spurt[0]) * rng.uniform(1, 4)
    return learned + spurt * rng.uniform(0.7, 1.4), spurt, (-1, -1)


def _whenever(rng: Rng, days: int, _: int) -> list[int]:
    apart = rng.uniform(7, 21)
    at = np.cumsum(np.maximum(3, rng.gamma(3, apart / 3, 60))).astype(int)
    return [0, *[int(d) for d in at if d <= days]]


def _fortnightly(rng: Rng, days: int, _: int) -> list[int]:
    return sorted({0, *[int(d + rng.integers(-5, 6)) for d in range(14, days - 5, 14)]})


def _mondays_or_fridays(rng: Rng, days: int, arrives: int) -> list[int]:
    weekday, gap = rng.choice([0, 4]), rng.integers(10, max(11, days - 14))
    first = int(weekday - arrives) % 7
    return [d for d in range(first, days + 1, int(rng.choice([7, 14]))) if not gap <= d < gap + 14]


WORLDS = (
    World(name="steps and relapses", most=45, resolution=1.0, per_kg=0.2, live=_clicks, tested=_whenever,
          noises=lambda rng: float(rng.lognormal(np.log(1.2), 0.35)), still=0.25, pieces=True),
    World(name="a radar that drifts", most=45, resolution=0.5, per_kg=0.0, live=_s_shaped, tested=_fortnightly,
          noises=lambda rng: float(rng.lognormal(np.log(1.1), 0.2)), still=0.2),
    World(name="growing boys", most=20, resolution=0.1, per_kg=0.0, live=_grows, tested=_mondays_or_fridays,
          noises=lambda rng: float(rng.lognormal(np.log(1.2), 0.45)), still=0.25),
)  # fmt: skip


def _wander(rng: Rng, days: int) -> np.ndarray:
    keep, path = np.exp(-1 / 28), rng.normal(0, 0.35, days + 1)
    for day in range(1, days + 1):
        path[day] = keep * path[day - 1] + np.sqrt(1 - keep**2) * path[day]
    return path - path[0]


def _paces(rng: Rng, world: World, days: int, planned: bool) -> np.ndarray:
    """How fast mass comes on each day, over its mean."""
    if not world.pieces:
        return np.ones(days)
    if planned:  # three weeks at a time
        busy = rng.integers(10, 15)
        return np.where(np.arange(days) % 21 < busy, 21 / busy, 0.0)
    pace = np.zeros(0)
    while len(pace) < days:
        pace = np.concatenate([pace, np.full(7 * rng.integers(2, 6), 1.5), np.zeros(7 * rng.integers(1, 4))])
    return pace[:days]


def person(rng: Rng, world: World, camp: int, k: int, weeks: int) -> Person:
    arrives, whole = camp * APART + int(rng.integers(0, 11)), 7 * weeks
    days = whole if rng.random() < 0.6 else int(rng.integers(21, whole + 1))
    still, mass = bool(rng.random() < world.still), float(rng.normal(72, 9))
    plan, stalls, plan_days = "", -1, min(days, 7 * int(rng.integers(6, 13)))
    if days >= 42 and rng.random() < 0.6:
        plan = "stalled" if rng.random() < 1 / 3 else "kept"
        stalls = int(rng.integers(7, plan_days - 20)) if plan == "stalled" else -1
    percent = float(rng.uniform(0.2, 0.45))
    rate = mass * percent / 100 if plan else float(rng.normal(0.12, 0.15))
    pace = rate / 7 * _paces(rng, world, whole, bool(plan))
    if stalls >= 0:
        pace[stalls:] = 0.0
    output, extra, away = world.live(rng, whole, still)
    body = mass + np.concatenate([[0.0], np.cumsum(pace)]) + extra + _wander(rng, whole)
    output = rng.normal(75, 6) + output + (0.0 if still else world.per_kg) * (body - body[0])
    tests = [d for d in world.tested(rng, days, arrives) if not away[0] <= d <= away[1]]
    return Person(
        name=f"C{camp}-{k:02d}", camp=camp, arrives=arrives, days=days, noise=world.noises(rng), still=still,
        output=output, body=body, away=away, plan=plan, percent=percent, stalls=stalls, plan_days=plan_days,
        tests=tests, variance=[],
    )  # fmt: skip


def usual_gain(world: World, at: int, weeks: int) -> np.ndarray:
    """Mean change of output by day of 2,000 people of a camp of so many weeks."""
    rng = np.random.default_rng((SEED, at, 10_000 + weeks))
    people = [person(rng, world, 0, k, weeks) for k in range(2000)]
    return np.asarray(np.mean([one.output - one.output[0] for one in people], axis=0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Handed:
    """The files of a program, and who was in it."""

    people: list[Person]
    weeks: list[int]  # of each camp
    ends: date
    texts: Mapping[str, str]

    def write(self, inbox: Path) -> list[Path]:
        inbox.mkdir(parents=True)
        for name, text in self.texts.items():
            (inbox / f"{name}.csv").write_text(text, encoding="utf-8")
        return [inbox / f"{name}.csv" for name in self.texts]


def _day(days: int) -> date:
    return BEGINS + timedelta(days=days)


def _drift(rng: Rng) -> np.ndarray:
    path: list[float] = []
    while len(path) < (CAMPS + 1) * APART:
        path += list(rng.normal(0, 0.1) / 7 * np.arange(7 * rng.integers(6, 11)))
    return np.array(path)


def _off(rng: Rng, world: World, one: Person, n: int) -> tuple[float, float]:
    """What a day is off for a person at test n, and the variance of it."""
    day, noise = one.tests[n], one.noise
    if world.name == "steps and relapses":
        return noise * -(rng.gamma(2.0) - 2.0) / np.sqrt(2.0), noise**2
    if world.name == "a radar that drifts":
        learned = (-1.5, -0.6, -0.2)[n] if n < 3 else 0.0
        tired = -0.7 * (_day(one.arrives + day).weekday() in (3, 4, 5))
        return learned * rng.uniform(0.3, 1.7) + tired + rng.normal(0, noise), noise**2 + 0.49 * 12 / 49
    noise *= 1.25 if day > one.days / 2 else 1.0
    return noise * rng.standard_t(4) / np.sqrt(2.0), noise**2 + 0.25


def _swings(rng: Rng, world: World, people: list[Person]) -> list[str]:
    drift = _drift(rng) if world.name == "a radar that drifts" else np.zeros((CAMPS + 1) * APART)
    of_day = rng.normal(0, 0.5, len(drift)) if world.name == "growing boys" else np.zeros(len(drift))
    rows = []
    for one in people:
        for n, day in enumerate(one.tests):
            off, variance = _off(rng, world, one, n)
            at, trials = one.arrives + day, int(rng.integers(4, 13))
            own = one.output[day] + off + drift[at] + of_day[at]
            spread = TRIAL_SD * rng.normal(0, 1, trials)
            if world.pieces:
                spread = -TRIAL_SD * (rng.gamma(2.0, 1.0, trials) - 2.0) / np.sqrt(2.0)
            one.variance.append(variance + np.pi / 2 * TRIAL_SD**2 / trials)
            for trial, value in enumerate(np.round((own + spread) / world.resolution) * world.resolution, 1):
                rows.append(f"{one.name},{_day(at)},exit_speed,{value:.1f},mph,{trial},{SWUNG}")
    return rows


def _weighins(rng: Rng, people: list[Person]) -> list[str]:
    rows = []
    for one in people:
        often, weekends = rng.uniform(3, 6) / 7, rng.random() < 0.5
        for day in range(one.days + 1):
            weekday = _day(one.arrives + day).weekday()
            missed = (
                rng.random() > often or (weekday > 4 and not weekends) or one.away[0] <= day <= one.away[1]
            )
            if day and missed:
                continue
            food = WEEKEND * (weekday in (5, 6, 0)) + FEAST * (rng.random() < FEASTS)
            kg = one.body[day] + food + rng.normal(0, 0.35)
            rows.append(f"{one.name},{_day(one.arrives + day)},body_mass,{kg:.1f},kg,1,{WEIGHED}")
    return rows


def _records(rng: Rng, people: list[Person], weeks: list[int]) -> dict[str, str]:
    roster = ["athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws"]
    stays = ["athlete,camp,arrived_on,left_on,planned_until,leave_reason"]
    plans = [
        "plan_id,athlete,start_on,start_mass,target_on,target_mass,unit,purpose,made_by,approved_by,reason"
    ]
    for one in people:
        born = _day(one.arrives) - timedelta(days=int(rng.integers(15 * 365 + 10, 18 * 365)))
        roster.append(f"{one.name},Person {one.name},{born},male,baseball,2043,OF,R,R")
        left, until = _day(one.arrives + one.days), _day(one.arrives + one.days)
        stays.append(f"{one.name},C{one.camp},{_day(one.arrives)},{left},{until},home")
        if one.plan:
            mass = f"{one.body[0]:.1f},{_day(one.arrives + one.plan_days)},{target_of(one):.2f}"
            plans.append(
                f"P{one.name},{one.name},{_day(one.arrives)},{mass},kg,base,staff,guardian and dietitian,agreed"
            )
    camps = ["camp_id,label,starts_on,ends_on"] + [
        f"C{c},Camp {c},{_day(c * APART)},{_day(c * APART + 7 * w + 11)}" for c, w in enumerate(weeks)
    ]
    parts = {"camps": camps, "roster": roster, "stays": stays, "plans": plans}
    return {name: "\n".join(lines) + "\n" for name, lines in parts.items()}


def target_of(one: Person) -> float:
    return float(one.body[0] * (1 + one.percent / 100 * one.plan_days / 7))


def hand_in(world: World, at: int, folder: int, seed: int = SEED) -> Handed:
    """Draw one program of a world."""
    rng = np.random.default_rng((seed, at, folder))
    weeks = [int(w) for w in rng.integers(8, 31, CAMPS)]
    sizes = rng.integers(8, world.most + 1, CAMPS)
    people = [person(rng, world, c, k, weeks[c]) for c in range(CAMPS) for k in range(sizes[c])]
    rows = _swings(rng, world, people) + _weighins(rng, people)
    texts = _records(rng, people, weeks) | {"readings": "\n".join([LONG, *rows]) + "\n"}
    ends = _day(max(one.arrives + one.days for one in people) + 2)
    return Handed(people=people, weeks=weeks, ends=ends, texts=texts)
