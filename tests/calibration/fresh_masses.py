"""Three invented worlds of morning weigh-ins at a residential sports camp, for judging a reviewer of weight-gain plans.

Written without any knowledge of how the judged tool models body mass.  Every person and number is invented.
World 0, "bending courses": calm noise; masses curve, relapse, dip in injury, illness, holiday; kept plans run uneven.
World 1, "thirsty noisy camp": heavy-tailed unequal noise, rhythms, water swings, absence after a bad weekend.
World 2, "sparse drift and growth": few weigh-ins, missing weeks, drifts for weeks, growth spurts, a scale replaced.
Body counts tissue, growth, slow drift and dents of illness or holiday; food, water, clothing and scale do not count.
A target is reached when body[plan_days] + on_scale(at) >= target_kg.  Without a plan plan_days is 0, target = start.
"""

from dataclasses import dataclass

import numpy as np

SEED: int = 70441


@dataclass(frozen=True, slots=True)
class Athlete:
    """One stay: the true course, the plan if any, and what the scale showed on the mornings it was used."""

    name: str
    camp: int
    arrives: int
    days: int
    body: np.ndarray
    plan: str
    plan_days: int
    start_kg: float
    target_kg: float
    stalls: int
    weighed: np.ndarray
    kg: np.ndarray


@dataclass(frozen=True, slots=True)
class World:
    """What a world is, in plain words."""

    name: str
    about: str


WORLDS: tuple[World, ...] = (
    World(
        "bending courses",
        "Masses are smooth but curved, with relapses, injuries, illness and a holiday. "
        "Noise is mild and weigh-ins frequent. A straight line through three weeks is often a poor picture.",
    ),
    World(
        "thirsty noisy camp",
        "Noise differs widely by athlete, with heavy tails, rhythms and hydration swings. "
        "Heat waves dry out everyone at once. Mornings after a bad weekend are often skipped.",
    ),
    World(
        "sparse drift and growth",
        "One to three weigh-ins a week or short bursts, with whole weeks missing. "
        "Real mass drifts for weeks and some have growth spurts. The scale may be replaced mid-camp.",
    ),
)


def on_scale(at: int) -> float:
    """Average kg that a weigh-in shows above body (drink, food in the gut, light kit) before any change of scale."""
    return (0.6, 0.9, 0.4)[at]


def swing(n: int, sd: float, tau: float, rng: np.random.Generator, first: float = 0.0) -> np.ndarray:
    """A value wandering for n days with the given long-run deviation, forgetting itself over tau days."""
    keep = float(np.exp(-1 / tau))
    out = np.append(first, rng.normal(0, sd * np.sqrt(1 - keep * keep), n - 1))
    for day in range(1, n):
        out[day] += keep * out[day - 1]
    return out


def dent(n: int, first: int, ramp: int, tau: float) -> np.ndarray:
    """A passing change of height one: it builds up over ramp days from the first and then fades over tau days."""
    t = np.arange(n) - first
    return np.clip(t / ramp, 0, 1) * np.exp(-np.maximum(t - ramp, 0) / tau) * (first >= 0)


def kept_pace(at: int, n: int, rng: np.random.Generator) -> np.ndarray:
    """Daily pace of a kept plan, as a share of the planned rate, near one on average over each three weeks."""
    pace = np.repeat(rng.normal(1, 0.07, (n // 21 + 1, 1)), 21, axis=1)
    if at == 0:
        pace += rng.uniform(0.1, 0.9, (len(pace), 1)) * np.linspace(1, -1, 21)
    if at == 1:
        pace += np.repeat(
            rng.normal(0, 0.5, (len(pace), 3)) @ (np.eye(3) - 1 / 3), 7, axis=1
        )  # weeks even out
    return pace.ravel()[:n] / pace.ravel()[:n].mean() * rng.normal(1.01, 0.05)


def free_course(at: int, n: int, rng: np.random.Generator) -> np.ndarray:
    """Gain since arrival, over n days, of somebody who follows no plan."""
    t, turn = np.arange(n, dtype=float), int(rng.integers(n))
    if at == 0:
        gain = rng.normal(1.4, 1.6) * (1 - np.exp(-t / rng.uniform(15, 60)))
        if rng.random() < 0.3:  # relapse: part of the gain is given back over three to six weeks
            gain -= gain[turn] * rng.uniform(0.3, 1) * np.clip((t - turn) / rng.uniform(21, 42), 0, 1)
        elif rng.random() < 0.2:  # injury: muscle is lost for two to five weeks
            gain -= rng.uniform(0.1, 0.3) / 7 * np.clip(t - turn, 0, rng.uniform(14, 35))
        return gain
    if at == 1:  # the rate changes every few weeks
        rates = np.repeat(rng.normal(0.05, 0.18, n // 14 + 1), rng.integers(14, 43, n // 14 + 1))[:n] / 7
    else:  # steady growth, and for a third a spurt of five to ten weeks
        u = np.clip((t - rng.integers(-20, n)) / rng.uniform(35, 70), 0, 1)
        rates = (
            rng.uniform(0.03, 0.12) + (rng.random() < 0.35) * rng.uniform(0.2, 0.4) * np.sin(np.pi * u) ** 2
        ) / 7
    return np.cumsum(rates) - rates[0]


def shown_above(at: int, t: np.ndarray, event: float, new: float, rng: np.random.Generator) -> np.ndarray:
    """What food, water, clothing and the scale add to body on the mornings t of the camp (day 0 is a Monday)."""
    sd = min(0.9, (0.32, 0.42, 0.36)[at] * np.exp(rng.normal(0, (0.2, 0.45, 0.25)[at])))
    noise = rng.standard_t(4, len(t)).clip(-8, 8) / 2**0.5 if at == 1 else rng.normal(0, 1, len(t))
    above = (
        swing(len(t), 0.6 * sd, (1.5, rng.uniform(2, 7), 3.0)[at], rng, rng.normal(0, 0.6 * sd))
        + 0.8 * sd * noise
    )
    if at == 1:
        size = rng.choice([-1, 0, 1], p=[0.12, 0.5, 0.38]) * rng.uniform(
            0.15, 0.45
        )  # half have a weekly rhythm
        above += size * np.array([1.0, 0.6, 0.1, -0.3, -0.6, -0.7, -0.1])[t % 7]
        if rng.random() < 0.3:  # water that comes and goes monthly
            above += rng.uniform(0.2, 0.5) * np.sin(2 * np.pi * (t / rng.uniform(26, 32) + rng.random()))
        above -= rng.uniform(0.2, 0.8) * ((t >= event) & (t < event + 6))
    return above + on_scale(at) + (new * (t >= event) if at == 2 else 0)


def attended(at: int, t: np.ndarray, above: np.ndarray, event: float, rng: np.random.Generator) -> np.ndarray:
    """Days since arrival on which the athlete stepped on the scale; the first day always."""
    chance = np.full(len(t), rng.uniform((0.6, 0.45, 0.9)[at], 0.95))
    if at == 0:
        chance *= np.where((t >= event) & (t < event + 8), 0, np.where(t % 7 == 6, 0.3, 1))
    if at == 1:
        for day in range(
            2, len(t)
        ):  # a Monday after a dry weekend: that day and the next two are often skipped
            if t[day] % 7 == 0 and above[day - 2 : day].mean() < on_scale(at) - 0.5 * above.std():
                chance[day : day + 3] *= 0.3
    if (
        at == 2
    ):  # bursts of a few mornings every one to two weeks, or fixed weekdays; a tenth of the weeks is missing
        burst = (t + rng.integers(16)) % rng.integers(9, 17) < rng.integers(3, 6)
        fixed = np.isin(t % 7, rng.choice(7, rng.integers(1, 4), replace=False))
        chance *= (burst if rng.random() < 0.35 else fixed) * (rng.random(40) > 0.1)[t // 7]
    return np.flatnonzero((rng.random(len(t)) < chance) | (t == t[0]))


def athlete(
    at: int, camp: int, which: int, length: int, event: float, new: float, rng: np.random.Generator
) -> Athlete:
    """Invent one athlete of a camp of so many days, with the day of its event and the kg a new scale adds."""
    offset = int(rng.integers(0, 11))
    days = length - offset if rng.random() < 0.7 else int(rng.integers(21, length - offset + 1))
    n, mass = days + 1, float(np.clip(62 * np.exp(rng.normal(0, 0.17)), 40, 105))
    plan, plan_days, weekly, stalls, gain = "", 0, 0.0, -1, free_course(at, n, rng)
    if days >= 42 and rng.random() < 0.6:
        plan, plan_days, weekly = (
            "kept",
            int(rng.integers(42, min(98, days) + 1)),
            mass * rng.uniform(0.002, 0.0045),
        )
        rates = (
            np.append(
                weekly * kept_pace(at, plan_days, rng), np.full(days - plan_days, rng.normal(0.02, 0.05))
            )
            / 7
        )
        if rng.random() < 1 / 3:
            plan, stalls = "stalled", int(rng.integers(7, plan_days - 20))
            rates[stalls:] = 0
        gain = np.append(0.0, np.cumsum(rates))
    calm = 0.6 if plan else 1.0
    gain = gain + swing(n, calm * (0.07, 0.12, 0.2)[at] * np.exp(rng.normal(0, 0.3)), (10, 8, 21)[at], rng)
    if at == 0:  # half fall ill once; the camp holiday adds or takes some
        gain -= calm * rng.uniform(0.5, 1.5) * dent(n, int(rng.integers(1, 2 * days)), 3, 8 * calm)
        gain += calm * rng.normal(0, 0.5) * dent(n, int(event) - offset, 8, 6)
    body, t, start = mass + gain, np.arange(n) + offset, round(mass + on_scale(at), 1)
    above = shown_above(at, t, event, new, rng)
    weighed = attended(at, t, above, event, rng)
    target, name = round(start + weekly * plan_days / 7, 1), f"c{camp + 1}-{which + 1:02d}"
    return Athlete(
        name,
        camp,
        camp * 231 + offset,
        days,
        body,
        plan,
        plan_days,
        start,
        target,
        stalls,
        weighed,
        np.round((body + above)[weighed], 1),
    )


def program(at: int, folder: int) -> list[Athlete]:
    """All athletes of one program: four camps of 8 to 40 athletes that last 8 to 30 weeks, in the world numbered at."""
    rng = np.random.default_rng((SEED, at, folder))
    people: list[Athlete] = []
    for camp in range(4):
        length = 7 * int(rng.integers(8, 31))  # the event: a holiday, a heat wave or a new scale, by world
        event, new = (
            float(rng.integers(25, length - 10)),
            float(rng.choice([-0.3, 0.3, 0], p=[0.35, 0.35, 0.3])),
        )
        people += [athlete(at, camp, i, length, event, new, rng) for i in range(rng.integers(8, 41))]
    return people
