"""How often a weight plan that is on course raises an alarm, and how soon a stall is found: by simulation.

The shares that reviews print (in `plan_words`) come from here and are reproduced by

    python -c "from latewood.pipeline.stats.plans.alarms import *; print(alarm_study())"
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import (
    LEVEL,
    RATE,
    MassVariances,
    Weighed,
    run_filter,
    run_smoother,
    stretch,
    terms_of,
)
from latewood.pipeline.stats.plans.massvariance import estimate_variances
from latewood.pipeline.stats.plans.noise import WANDER_MEMORY_DAYS, alarm_variances, autoregressive
from latewood.pipeline.stats.plans.power import alarm_limits, limit_for, plan_power
from latewood.pipeline.stats.plans.rules import OFF_PLAN, STATUSES, Looks, PlanSettings, judge

Floats = NDArray[np.float64]

# The course of body mass and weigh-ins in the study; sizes as seen in camps, no published source.
WANDER_SD: Final = 0.5  # kg around the course, as long a memory as in `noise`
WATER_SD: Final = 0.55
WATER_PERSISTENCE: Final = 0.6
READING_SD: Final = 0.30
START_KG: Final = 72.0
START_KG_SD: Final = 8.0
ORDINARY_STAYS: Final = 60
LIMIT_STAYS: Final = 1000  # simulated for the limits of each camp


@dataclass(frozen=True, slots=True, kw_only=True)
class StudiedPlan:
    """A plan whose alarms are studied; the athletes who stall do so at the end of `stall_week`."""

    weeks: int = 20
    percent: float = 0.25  # of the start mass a week
    stall_week: int = 0
    wander_sd: float = WANDER_SD


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmStudy:
    """Shares of stays on plan that ever raise a status, and when full stalls are found."""

    n_camps: int
    n_stays: int
    weeks: int
    ever: Mapping[str, float]  # status -> share of stays on plan
    off_plan: float  # losing, stalled or behind
    off_plan_lowest: float  # of the camps: each has estimated its own variances
    off_plan_highest: float
    stall_found: Mapping[int, float]  # weeks after the stall began -> share found by then
    stall_median_weeks: float  # infinite where fewer than half are found


def alarm_study(
    plan: StudiedPlan | None = None,
    *,
    n_camps: int = 20,
    stays_per_camp: int = 400,
    seed: int = 20330104,
    settings: PlanSettings | None = None,
) -> AlarmStudy:
    """Return what weekly looks at plans do when the athletes gain exactly as planned, and when they stop.

    Each athlete is weighed on 3 to 7 mornings a week and gains as planned, in the
    second half of the study only until the plan's stall week. The variances are estimated, camp by camp, from 60
    other athletes with gains of every size, a quarter of them stalled for a while, and the alarm's limits from them.
    """
    rules, studied = settings or PlanSettings(), plan or StudiedPlan()
    rng = np.random.default_rng(seed)
    camps = [_one_camp(rng, stays_per_camp, studied, rules) for _ in range(n_camps)]
    on_plan = np.concatenate([statuses for statuses, _ in camps], axis=1)
    delay = np.concatenate([_delay(statuses, studied.stall_week) for _, statuses in camps])
    by_camp = [_ever(statuses, tuple(OFF_PLAN)) for statuses, _ in camps]
    return AlarmStudy(
        n_camps=n_camps,
        n_stays=on_plan.shape[1],
        weeks=studied.weeks,
        ever={status: _ever(on_plan, (status,)) for status in STATUSES},
        off_plan=float(np.mean(by_camp)),
        off_plan_lowest=min(by_camp),
        off_plan_highest=max(by_camp),
        stall_found={within: float(np.mean(delay <= within)) for within in (2, 4, 6, 8, 12)},
        stall_median_weeks=float(np.median(delay)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Camp:
    start: Floats
    planned: Floats
    variances: MassVariances
    settings: PlanSettings


def _one_camp(
    rng: np.random.Generator, n_stays: int, plan: StudiedPlan, settings: PlanSettings
) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """Return the statuses (week, stay) of athletes on plan, and of athletes who stop in its stall week."""
    weeks = plan.weeks
    variances = ordinary_variances(rng, weeks, plan.wander_sd)
    start = rng.normal(START_KG, START_KG_SD, n_stays)
    planned = plan.percent / 100.0 * start
    steady = np.broadcast_to(planned, (7 * weeks + 1, n_stays))
    camp = _Camp(start=start, planned=planned, variances=variances, settings=settings)
    on_plan = _weekly(weigh(rng, start, steady, plan.wander_sd), camp)
    stopped = np.where(np.arange(7 * weeks + 1)[:, None] < 7 * plan.stall_week, planned, 0.0)
    return on_plan, _weekly(weigh(rng, start, stopped, plan.wander_sd), camp)


def weigh(rng: np.random.Generator, start: Floats, rate: Floats, wander_sd: float = WANDER_SD) -> Weighed:
    """Return weigh-ins (day, stay) of athletes who gain at the given rates (day, stay)."""
    days, stays = rate.shape
    gained = np.vstack([np.zeros((1, stays)), np.cumsum(rate[:-1] / 7.0, axis=0)])
    mass = start + gained + autoregressive(rng, (days, stays), np.exp(-1.0 / WANDER_MEMORY_DAYS), wander_sd)
    water = autoregressive(rng, (days, stays), WATER_PERSISTENCE, WATER_SD)
    kg = mass + water + rng.normal(0.0, READING_SD, (days, stays))
    observed = rng.random((days, stays)) < rng.integers(3, 8, stays) / 7.0
    observed[0] = True
    return Weighed(kg, observed.astype(np.int64))


def ordinary_weighins(rng: np.random.Generator, weeks: int, wander_sd: float = WANDER_SD) -> Weighed:
    """Return the weigh-ins of an ordinary camp: decaying gains of every size, a quarter with a stall."""
    week = np.arange(7 * weeks + 1)[:, None] / 7.0
    rate = rng.normal(0.45, 0.22, ORDINARY_STAYS) * np.exp(-week / 30.0)
    begins = rng.uniform(2.0, max(weeks - 6.0, 3.0), ORDINARY_STAYS)
    ends = begins + rng.uniform(3.0, 6.0, ORDINARY_STAYS)
    stalls = (rng.random(ORDINARY_STAYS) < 0.25) & (week >= begins) & (week < ends)
    start = rng.normal(START_KG, START_KG_SD, ORDINARY_STAYS)
    return weigh(rng, start, np.where(stalls, 0.0, rate), wander_sd)


def ordinary_variances(rng: np.random.Generator, weeks: int, wander_sd: float = WANDER_SD) -> MassVariances:
    """Return variances pooled over an ordinary camp."""
    weighed = ordinary_weighins(rng, weeks, wander_sd)
    return estimate_variances(weighed, weighed.kg[0]).variances


def _weekly(weighed: Weighed, camp: _Camp) -> NDArray[np.object_]:
    """Return the status (week, stay) at the end of each week, from the first on."""
    days = weighed.kg.shape[0]
    start, planned, variances = camp.start, camp.planned, camp.variances
    line = planned * np.arange(days)[:, None] / 7.0
    above = Weighed(weighed.kg - line, weighed.readings)
    centred = run_filter(above, above.kg[0], terms_of(alarm_variances(variances)))
    lost = _lost_percent(weighed, variances)
    weeks = (days - 1) // 7
    limits = _limits(weighed, weeks, camp)
    rows = []
    for week in range(1, weeks + 1):
        day = 7 * week
        mean = centred.after[day].T.copy()
        mean[:, LEVEL] += line[day]
        mean[:, RATE] += planned
        looks = Looks(
            mean=mean,
            cov=centred.after_cov[day].transpose(2, 0, 1),
            lost_percent=lost[week - 1],
            weighins_two_weeks=weighed.readings[max(day - 13, 0) : day + 1].sum(axis=0),
            weeks_seen=np.full(start.size, float(week)),
            weeks_in=np.full(start.size, float(week)),
            # The target lies two weeks beyond the last look, so that reaching it hides no alarm.
            days_left=np.full(start.size, 7 * (weeks + 2) - day),
            planned_rate=planned,
            start_kg=start,
            target_kg=start + planned * (weeks + 2),
            allowed=np.ones(start.size, dtype=bool),
            limit=limits[week - 1],
        )
        rows.append(judge(looks, variances, camp.settings).status)
    return np.stack(rows)


def _limits(weighed: Weighed, weeks: int, camp: _Camp) -> Floats:
    """Return the alarm's limit (week, stay), by the weigh-ins a week so far."""
    table = plan_power(camp.variances, camp.settings, n_stays=LIMIT_STAYS, gaps=(0.0,))
    known, week = alarm_limits(table), np.arange(1, weeks + 1)
    often = (np.cumsum(weighed.readings, axis=0)[7 * week] - 1.0) / week[:, None]
    whole = np.floor(often + 1e-9)
    limits = np.empty_like(whole)
    for rate in np.unique(whole):
        limits[whole == rate] = limit_for(known, float(rate), float(weeks), camp.settings).chance
    return limits


def _lost_percent(weighed: Weighed, variances: MassVariances) -> Floats:
    """Return the loss over the last two weeks (week, stay), from the mass trend as known at each look."""
    terms = terms_of(variances)
    path = run_filter(weighed, weighed.kg[0], terms)
    rows = []
    for day in range(7, weighed.kg.shape[0], 7):
        since = max(day - 14, 0)
        then = run_smoother(stretch(path, since, day + 1), terms).mean[0, LEVEL]
        rows.append(100.0 * (then - path.after[day, LEVEL]) / then)
    return np.stack(rows)


def _ever(statuses: NDArray[np.object_], which: tuple[str, ...]) -> float:
    return float(np.isin(statuses.astype(str), which).any(axis=0).mean())


def _delay(statuses: NDArray[np.object_], stall_week: int) -> Floats:
    """Return weeks from the stall to the first alarm at or after it, infinite where none is raised."""
    alarms = np.isin(statuses.astype(str), tuple(OFF_PLAN))[stall_week:]
    first = np.argmax(alarms, axis=0) + 1.0
    return np.where(alarms.any(axis=0), first, np.inf)
