"""Weight plans: false alarms over a whole stay, stalls found, and the chance of the target."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from latewood.pipeline.stats.plans.alarms import AlarmStudy, StudiedPlan, alarm_study
from latewood.pipeline.stats.plans.power import on_steps, plan_power
from latewood.pipeline.stats.plans.results import PlanPower
from latewood.pipeline.stats.plans.reviews import CampPeople, plan_reviews
from latewood.pipeline.stats.plans.rules import OFF_PLAN, PlanSettings
from latewood.pipeline.stats.plans.weighin import MassFit, mass_trends
from tests.calibration.outcome import Claim, Estimate, Study, mean_of, share_of
from tests.calibration.study_mass import START, Weighed, Weighing, known_on, weigh
from tests.calibration.varied import as_frame, seeded

REVIEW_SEED = 7132
ALARM_SEEDS = (71_330_001, 71_330_002, 71_330_003, 71_330_004, 71_330_005, 71_330_006)
MOST_DAYS = (3, 7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A plan whose alarm is studied, and the share of full stalls it should find within six weeks."""

    name: str
    plan: StudiedPlan
    camps: int = 8
    rules: PlanSettings | None = None
    stalls: float | None = None


def _share(value: float, study: AlarmStudy) -> Estimate:
    """A share with its error; camps differ by an SD of about .02, because each has estimated its own variances."""
    error = float(np.sqrt(value * (1 - value) / study.n_stays + 0.02**2 / study.n_camps))
    return Estimate(value=value, error=error, n=study.n_stays, n_camps=study.n_camps)


def _plans(camp: Weighed, target: np.ndarray, target_on: date) -> pd.DataFrame:
    ids = camp.stays["stay_id"]
    return pd.DataFrame({
        "plan_id": ids,
        "version": 1,
        "athlete_id": ids,
        "stay_id": ids,
        "start_on": START.item(),
        "start_kg": camp.mass[:, 0],
        "target_on": target_on,
        "target_kg": target,
        "ended_on": None,
    })


def _reviews(
    camp: Weighed, plans: pd.DataFrame, fit: MassFit, power: Sequence[PlanPower] = ()
) -> pd.DataFrame:
    people = pd.DataFrame({"athlete_id": camp.stays["athlete_id"], "birth_date": date(2014, 1, 1)})
    return as_frame(plan_reviews(plans, CampPeople(people=people, stays=camp.stays), fit, power=power))


def _weekly(rng: np.random.Generator, k: int) -> pd.DataFrame:
    """Athletes who gain exactly as planned, looked at weekly for 20 weeks through the whole path."""
    camp = weigh(rng, Weighing(name="on plan", per_week=MOST_DAYS, rate=0.0025, n=60), 140)
    pooled = mass_trends(
        weigh(rng, Weighing(name="ordinary", per_week=MOST_DAYS, slips=0.003, n=60), 140).weighins
    )
    plans = _plans(camp, camp.mass[:, 0] * (1 + 0.0025 * 20), date(2031, 5, 26))
    power = plan_power(on_steps(pooled.variances), PlanSettings(), gaps=(0.0,))
    ever = np.zeros(60, dtype=bool)
    for week in range(1, 21):
        table = _reviews(camp, plans, mass_trends(known_on(camp, 7 * week), pooled.variances), power)
        ever |= table["status"].isin(OFF_PLAN).to_numpy()
    return pd.DataFrame({"camp": k, "ever": ever})


def _chances(rng: np.random.Generator, k: int) -> pd.DataFrame:
    """Said chance of the target in week 10 of 16-week plans, and whether it was reached."""
    camp = weigh(rng, Weighing(name="chance", per_week=MOST_DAYS, slips=0.003), 112)
    target = camp.mass[:, 0] * (1 + rng.uniform(0.2, 0.5, 40) / 100 * 16)
    table = _reviews(camp, _plans(camp, target, date(2031, 4, 28)), mass_trends(known_on(camp, 70)))
    return pd.DataFrame({
        "camp": k,
        "said": table["chance_target"].astype(float),
        "seen": camp.mass[:, 112] >= target,
    })


STEEP = PlanSettings(ceiling_percent=1.0)
PLANS = (
    Asked(name="gentle plan, 0.25 % a week", plan=StudiedPlan(percent=0.25), camps=20),
    Asked(
        name="steep plan, 0.6 %, ceiling raised",
        plan=StudiedPlan(percent=0.6),
        camps=20,
        rules=STEEP,
        stalls=0.65,
    ),
    Asked(name="plan at the ceiling, 0.5 %", plan=StudiedPlan(percent=0.5), stalls=0.5),
    Asked(name="plan to hold", plan=StudiedPlan(percent=0.0)),
    Asked(name="gentle plan, mass wanders by .8 kg", plan=StudiedPlan(percent=0.25, wander_sd=0.8)),
    Asked(name="plan at the ceiling, stall from week 10", plan=StudiedPlan(percent=0.5, stall_week=10)),
)


def run_plans(size: float, asked: Sequence[Asked] = PLANS) -> Study:
    rows, claims = [], []
    for one, number in zip(asked, ALARM_SEEDS, strict=False):
        camps = max(4, round(one.camps * size))
        study = alarm_study(one.plan, n_camps=camps, stays_per_camp=200, seed=number, settings=one.rules)
        off = _share(study.off_plan, study)
        result = _share(study.stall_found[6], study)
        stalls = (
            [result.text(), f"{study.stall_found[8]:.3f}", f"{study.stall_median_weeks:.1f}"]
            if one.plan.percent
            else ["–"] * 3
        )
        rows.append([f"`alarm_study`: {one.name}", f"{camps} / {study.n_stays}", off.text(), *stalls])
        claims.append(
            Claim(
                key=f"alarm: {one.name}",
                text=f"athletes on plan ever flagged at most 8 % ({one.name})",
                found=off,
                high=0.08,
            )
        )
        if one.stalls is not None:
            claims.append(
                Claim(
                    key=f"stalls: {one.name}",
                    text=f"full stalls found by week 6, at least {one.stalls:.2f} ({one.name})",
                    found=result,
                    low=one.stalls,
                )
            )
    camps = max(3, round(12 * size))
    weekly = pd.concat([_weekly(seeded(REVIEW_SEED, 0, k), k) for k in range(camps)])
    ever = share_of(weekly["ever"], weekly["camp"])
    rows.append([
        "`plan_reviews`: gentle plan, 1 % unit slips",
        f"{camps} / {len(weekly)}",
        ever.text(),
        "–",
        "–",
        "–",
    ])
    claims.append(
        Claim(
            key="alarm: whole path",
            text="athletes on plan ever flagged at most 8 % (whole path)",
            found=ever,
            high=0.08,
        )
    )
    chance = pd.concat([_chances(seeded(REVIEW_SEED, 1, k), k) for k in range(max(5, round(25 * size)))])
    return Study(
        name="plans",
        question="Weight plans: false alarms over 20 weeks, stalls found, and the chance of the target",
        about="Weekly looks at athletes who gain exactly as planned, and at athletes who stop, at once unless a week "
        "is said. The limit of each alarm is set by the camp's own noise, so that it says to flag "
        f"{PlanSettings().false_share:.3f} of those on plan. That .65 of the stalls of a gentle plan are found by week "
        "6 was asserted, not met, and is withdrawn: whatever the alarm, most stalls of .18 kg a week stay within water "
        "and wander for six weeks. Chance of the target in week 10 of 16-week plans of ordinary camps, against what "
        "came: " + _text(chance) + ".",
        seeds=f"`alarm_study` {', '.join(map(str, ALARM_SEEDS))}; ({REVIEW_SEED}, 0–1, camp 0…)",
        columns=(
            "what",
            "camps / stays",
            "on plan, ever flagged",
            "stall found in 6 weeks",
            "in 8",
            "median weeks",
        ),
        rows=rows,
        claims=[*claims, _gap(chance)],
    )


def _bins(chance: pd.DataFrame) -> pd.DataFrame:
    bins = pd.cut(chance["said"], [0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0], include_lowest=True)
    return chance.groupby(bins, observed=True).agg(
        said=("said", "mean"), seen=("seen", "mean"), n=("said", "size")
    )


def _text(chance: pd.DataFrame) -> str:
    return "; ".join(
        f"said {r.said:.2f}, seen {r.seen:.2f} (n {r.n:.0f})" for r in _bins(chance).itertuples()
    )


def _gap(chance: pd.DataFrame) -> Claim:
    gap = mean_of(chance["said"] - chance["seen"], chance["camp"])
    return Claim(
        key="chance",
        text="chance of the target: said less seen within .05 on average",
        found=gap,
        low=-0.05,
        high=0.05,
    )
