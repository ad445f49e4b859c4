"""What is said beforehand against what came: the power of a plan's alarm, and the chance that a retest is clear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.retest import EXTRA, retest_advice
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.engine.kalman import MassVariances
from latewood.pipeline.stats.plans.alarms import ordinary_variances
from latewood.pipeline.stats.plans.noise import WANDER_MEMORY_DAYS
from latewood.pipeline.stats.plans.power import N_STAYS, SimulatedStays, called_by, limit_of, look_at
from latewood.pipeline.stats.plans.rules import PlanSettings
from tests.calibration.outcome import Claim, Estimate, Study, mean_of
from tests.calibration.varied import (
    BASE,
    FEW,
    HEAVY,
    LOWER,
    MEASURES,
    NOBODY,
    Variant,
    draw,
    fresh_session,
    seeded,
)
from tests.camps import Camp

POWER_SEED, RETEST_SEED = 7140, 7141
GAP, HALF, STEEP = 0.18, 0.09, 0.43  # kg a week: 0.25 % of 72 kg, half of it, 0.6 %
ASKED = ((0.0, 20), (GAP, 6), (GAP, 12), (HALF, 12), (STEEP, 4), (STEEP, 6))
RETESTED = (BASE, HEAVY, FEW, NOBODY, LOWER)
WEEKS = (5.0, 14.0)  # of the stay when the advice is asked for
DECILES = np.linspace(0.0, 1.0, 11)


def _truth(found: MassVariances) -> MassVariances:
    """The noise of the simulated weigh-ins themselves, in the form the power is worked out from."""
    memory = np.exp(-1.0 / WANDER_MEMORY_DAYS)
    return replace(
        found, level_sd=0.5 * float(np.sqrt(1.0 - memory**2)), water_sd=0.55, persistence=0.6, reading_sd=0.30
    )


def power_of(k: int, per_week: int) -> pd.DataFrame:
    """One camp: what its own estimated noise says, and what its filter does on the noise that is."""
    rng, rules = seeded(POWER_SEED, per_week, k), PlanSettings()
    result = ordinary_variances(rng, 20)
    stays = SimulatedStays(n=N_STAYS // 4, per_week=per_week)
    text = look_at(rng, result, rules, stays)
    came = look_at(rng, _truth(result), rules, stays, filtered_with=result)
    limit = limit_of(text, stays.weeks, rules.false_share)
    return pd.DataFrame([
        {
            "camp": k, "gap": gap, "week": week,
            "said": called_by(text, gap, limit)[week - 1].mean(),
            "came": called_by(came, gap, limit)[week - 1].mean(),
        }
        for gap, week in ASKED
    ])  # fmt: skip


def run_power(size: float) -> Study:
    rows, claims = [], []
    camps = max(6, round(40 * size))
    table = pd.concat([power_of(k, n) for n in (3, 5) for k in range(camps)], ignore_index=True)
    for gap, week in ASKED:
        part = table[(table["gap"] == gap) & (table["week"] == week)]
        text, came = mean_of(part["said"], part["camp"]), mean_of(part["came"], part["camp"])
        apart = mean_of(part["said"] - part["came"], part["camp"])
        rows.append([f"{gap:.2f}", str(week), text.text(), came.text(), apart.text()])
        bound = 0.02 if gap == 0.0 else 0.05
        what = "false alarms" if gap == 0.0 else f"calls at {gap:.2f} kg a week below plan"
        claims.append(
            Claim(
                key=f"power {gap:.2f} {week}",
                text=f"{what} by week {week}: said less came within {bound:.2f}",
                found=apart,
                low=-bound,
                high=bound,
            )
        )
    return Study(
        name="power",
        question="A plan's alarm: the power said when the plan is made, against what came",
        about=f"{camps} programs for each of 3 and 5 weigh-ins a week. Each estimates its noise from 60 ordinary "
        "stays; *said* is what `plan_power` makes of that estimate, *came* what the same filter and alarm do on "
        "stays with the noise that was planted. Exactly on plan (0), a gentle plan that stalls (0.18 kg a week), "
        "half of it, and a steep plan that stalls.",
        seeds=f"({POWER_SEED}, weigh-ins a week, camp 0…)",
        columns=("kg a week below plan", "week", "said", "came", "said less came"),
        rows=rows,
        claims=claims,
    )


def retested(rng: np.random.Generator, variant: Variant, extra: int, k: int) -> pd.DataFrame:
    """One camp some weeks in: the chance said for each open verdict, and the verdict after that many new days."""
    camp = draw(rng, variant, stay_weeks=(20, 40), early_leavers=0.0)
    sessions = camp.session_values
    sessions = sessions[sessions["weeks"] <= rng.uniform(*WEEKS)].reset_index(drop=True)
    errors = measurement_errors(sessions, MEASURES)
    result = trends(sessions, MEASURES, errors)
    stays = camp.stays.assign(left_on=None)
    advice = [a for a in retest_advice(sessions, stays, result, errors, MEASURES) if a.extra == extra]
    if not advice:
        return pd.DataFrame(columns=["camp", "said", "came"])
    after = _grown(rng, variant, camp, sessions, extra, advice[0].weeks_apart)
    verdicts = {t.stay_id: t.verdict for t in trends(after, MEASURES, measurement_errors(after, MEASURES))}
    return pd.DataFrame([
        {"camp": k, "said": a.chance_clear, "came": verdicts[a.stay_id].startswith("clear")} for a in advice
    ])


def _grown(
    rng: np.random.Generator,
    variant: Variant,
    camp: Camp,
    sessions: pd.DataFrame,
    extra: int,
    apart: float,
) -> pd.DataFrame:
    """The sessions with new ones of every stay, so far apart, at what the athletes then truly can."""
    last = sessions.sort_values("weeks", kind="stable").groupby("stay_id", sort=True).tail(1)
    parts = [sessions]
    for step in range(1, extra + 1):
        days = np.rint(7.0 * (last["weeks"].to_numpy(float) + apart * step)).astype(int)
        ahead = pd.to_timedelta(days - np.rint(7.0 * last["weeks"].to_numpy(float)).astype(int), unit="D")
        parts.append(
            last.assign(
                session_id=[f"{one}+{step}" for one in last["session_id"]],
                weeks=days / 7.0,
                held_on=(pd.to_datetime(last["held_on"]) + ahead).astype(sessions["held_on"].dtype),
                value=fresh_session(rng, variant, camp, last["stay_id"], days),
                is_intake=False,
            )
        )
    return pd.concat(parts, ignore_index=True)


def run_retest(size: float, variants: Sequence[Variant] = RETESTED) -> Study:
    rows, claims = [], []
    for at, variant in enumerate(variants):
        for extra in EXTRA:
            camps = max(6, round(80 * size))
            table = pd.concat(
                [retested(seeded(RETEST_SEED, 10 * at + extra, k), variant, extra, k) for k in range(camps)],
                ignore_index=True,
            ).astype({"said": float, "came": float})
            text, came = mean_of(table["said"], table["camp"]), mean_of(table["came"], table["camp"])
            apart = mean_of(table["said"] - table["came"], table["camp"])
            rows.append([
                variant.name, str(extra), f"{camps} / {len(table)}", text.text(), came.text(), apart.text(),
                _by_tenth(table),
            ])  # fmt: skip
            claims.append(_claim(variant, extra, apart))
    return Study(
        name="retest",
        question="Retest adviser: the chance said that one or two more test days make a verdict clear",
        about="Camps in the middle of their stays (week 5 to 14). Every athlete is then tested once or twice more at "
        "what they truly can, all sessions are judged again from scratch (course of time, intake effect and noise "
        "learned anew), and the verdict is compared with the chance said before. By tenths of the said chance: "
        "said → came (stays).",
        seeds=f"({RETEST_SEED}, 10 × variant + days, camp 0…); developed on (990, …)",
        columns=("variant", "more days", "camps / verdicts", "said", "came", "said less came", "by tenth"),
        rows=rows,
        claims=claims,
    )


def _claim(variant: Variant, extra: int, apart: Estimate) -> Claim:
    return Claim(
        key=f"retest {variant.name} {extra}",
        text=f"chance of a clear verdict after {extra} more: said less came within .04 ({variant.name})",
        found=apart,
        low=-0.04,
        high=0.04,
    )


def _by_tenth(table: pd.DataFrame) -> str:
    tenth = pd.cut(table["said"], DECILES, include_lowest=True)
    result = table.groupby(tenth, observed=True).agg(
        said=("said", "mean"), came=("came", "mean"), n=("came", "size")
    )
    return "; ".join(f"{r.said:.2f} → {r.came:.2f} ({r.n})" for r in result.itertuples())
