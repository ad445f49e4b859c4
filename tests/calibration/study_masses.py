"""Weight plans in three worlds written by a hand that had not seen the filter: `fresh_masses`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
import pandas as pd

from latewood.pipeline.stats.plans.reviews import CampPeople
from latewood.pipeline.stats.plans.rules import OFF_PLAN
from latewood.pipeline.stats.plans.weighin import PACE_DAYS
from tests.calibration.fresh_masses import SEED, WORLDS, Athlete, on_scale, program
from tests.calibration.fresh_worlds import BEGINS, BOUNDS
from tests.calibration.outcome import Claim, Estimate, Study, mean_of, share_of
from tests.calibration.study_fresh import APART, TEXTS, WITHIN, claim_range, weekly_reviews

KEYS = ("rate", "chance", "alarm", "found")


def _day(days: int) -> pd.Timestamp:
    return pd.Timestamp(BEGINS + timedelta(days=days))


def reviews(people: Sequence[Athlete]) -> pd.DataFrame:
    """The weekly reviews of every plan of a program."""
    rows = [
        {"athlete_id": a.name, "stay_id": a.name, "camp_id": f"C{a.camp}", "measured_on": _day(a.arrives + d), "kg": kg}
        for a in people
        for d, kg in zip(a.weighed.tolist(), a.kg.tolist(), strict=True)
    ]  # fmt: skip
    weighins = pd.DataFrame(rows).sort_values(["stay_id", "measured_on"], ignore_index=True)
    weighins["measured_on"] = weighins["measured_on"].dt.as_unit("s")
    planned = [a for a in people if a.plan]
    plans = pd.DataFrame([
        {
            "plan_id": a.name, "version": 1, "athlete_id": a.name, "stay_id": a.name, "ended_on": None,
            "start_on": _day(a.arrives), "start_kg": a.start_kg, "target_kg": a.target_kg,
            "target_on": _day(a.arrives + a.plan_days),
        }
        for a in planned
    ])  # fmt: skip
    camp = CampPeople(
        people=pd.DataFrame([{"athlete_id": a.name, "birth_date": date(2024, 1, 1)} for a in people]),
        stays=pd.DataFrame([
            {"stay_id": a.name, "athlete_id": a.name, "arrived_on": _day(a.arrives)} for a in people
        ]),
    )  # fmt: skip
    ends = {a.name: a.arrives - a.camp * APART + a.plan_days for a in planned}
    return weekly_reviews(weighins, plans, camp, ends, {a.name: a.camp for a in people})


def judged(at: int, folder: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """One row a plan (flags, chance half-way) and one a look (whether the rate's interval held the true one)."""
    people = {a.name: a for a in program(at, folder)}
    plans, looks = [], []
    for name, table in reviews(list(people.values())).groupby("athlete_id"):
        one = people[str(name)]
        camp = f"{folder}-{one.camp}"
        day = table["on"].to_numpy() - one.arrives
        table, day = table[day <= one.plan_days], day[day <= one.plan_days]
        if not len(day):
            continue
        off, in_time = (
            table["status"].isin(OFF_PLAN).to_numpy(),
            (day > one.stalls) & (day <= one.stalls + WITHIN),
        )
        half = int(np.argmin(np.abs(day - one.plan_days / 2)))
        plans.append({
            "camp": camp, "plan": one.plan, "ever": off.any(), "found": (off & in_time).any(),
            "seen_out": one.stalls + WITHIN <= one.plan_days,
            "said": table["chance_target"].astype(float).iloc[half],
            "came": one.body[one.plan_days] + on_scale(at) >= one.target_kg,
        })  # fmt: skip
        seen = (pd.to_datetime(table["as_of"]) - _day(one.arrives)).dt.days.to_numpy()
        for r, s in zip(table.itertuples(), seen, strict=True):
            if s >= PACE_DAYS and pd.notna(r.rate_low):
                true = (one.body[s] - one.body[s - PACE_DAYS]) * 7 / PACE_DAYS
                looks.append({
                    "camp": camp, "plan": one.plan, "held": r.rate_low <= true <= r.rate_high,
                    "off": r.rate - true, "width": r.rate_high - r.rate_low,
                })  # fmt: skip
    return pd.DataFrame(plans), pd.DataFrame(looks)


def estimates(plans: pd.DataFrame, looks: pd.DataFrame) -> dict[str, Estimate]:
    """What is held against the bounds of `fresh_worlds`."""
    kept = plans[plans["plan"] == "kept"]
    stalled = plans[(plans["plan"] == "stalled") & plans["seen_out"]]
    asked = plans[plans["said"].notna()]
    return {
        "rate": share_of(looks["held"], looks["camp"]),
        "chance": mean_of(asked["said"] - asked["came"], asked["camp"]),
        "alarm": share_of(kept["ever"], kept["camp"]),
        "found": share_of(stalled["found"], stalled["camp"]),
    }


def run_masses(size: float) -> Study:
    """Twelve programs of four camps in each of three worlds (at full size)."""
    programs, rows, claims = max(2, round(12 * size)), [], []
    for at, world in enumerate(WORLDS):
        parts = [judged(at, folder) for folder in range(programs)]
        plans, looks = (pd.concat(tables, ignore_index=True) for tables in zip(*parts, strict=True))
        for key, one in estimates(plans, looks).items():
            low, high = BOUNDS[key]
            text = f"{TEXTS[key]}, {claim_range(low, high)} ({world.name})"
            claims.append(Claim(key=f"masses {key}: {world.name}", text=text, found=one, low=low, high=high))
        beside = [("rate less the true one, kg a week", mean_of(looks["off"], looks["camp"])),
                  ("width of its interval, kg a week", mean_of(looks["width"], looks["camp"]))]  # fmt: skip
        for kind, part in looks.groupby("plan"):
            beside.append((
                f"plans {kind}: interval of the rate holds it",
                share_of(part["held"], part["camp"]),
            ))
        rows += [[world.name, text, f"{one.n_camps} / {one.n}", one.text()] for text, one in beside]
    return Study(
        name="masses",
        question="Weight plans in worlds written without sight of the filter",
        about="Three worlds of morning weigh-ins (`tests/calibration/fresh_masses.py`), written by one who had read "
        "neither code nor docs: bent courses with illness and holidays; unequal, heavy-tailed noise with weekly and "
        "monthly rhythms; few weigh-ins, drifts, spurts and a scale that is replaced. The bounds are those of the "
        "study *fresh*. Reviews on every Sunday, from what was known by then; a target is reached on the scale, with "
        "the food and water of an ordinary morning.",
        seeds=f"({SEED}, world 0–{len(WORLDS) - 1}, program 0–{programs - 1})",
        columns=("world", "what", "camps / units", "found"),
        rows=rows,
        claims=claims,
    )
