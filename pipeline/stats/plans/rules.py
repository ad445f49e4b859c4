"""The weekly look at a weight plan: chances from the mass filter, and the one status that comes first.

The filter of a plan runs on mass above the plan's own line, so that an athlete exactly on plan is a series
that goes nowhere: how often such an athlete is flagged then does not depend on how steep the plan is. (A
filter whose rate fades towards no gain flagged a quarter of the athletes exactly on a plan of 0.25 % a week
within 20 weeks, and three quarters at 0.45 %.) Forecasts let the whole rate fade over 25 weeks, as it does in
bodies. The rate shown and the chance of the target come from `switching`, where a mass may also be held
for weeks and gain again; at the same share of false alarms its chance of a hold finds fewer stalls
(`tests/bench/stall_alarms.py`), so that alarms stay with this filter. From which chance it raises one is set for each
plan by simulation (`power`).

Shares and thresholds refer to weekly looks. Rates are kg a week; percentages are of body mass per week.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import DAYS_PER_WEEK, LEVEL, RATE, MassVariances, forecast
from latewood.pipeline.stats.engine.normal import norm
from latewood.pipeline.stats.engine.switching import Mixture

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

REFER: Final = "refer"
NOT_ALLOWED: Final = "not allowed"
TOO_FAST: Final = "too fast"
TOO_FEW: Final = "too few weigh-ins"
TOO_EARLY: Final = "too early to tell"
REACHED: Final = "reached"
PAST: Final = "past its date"
LOSING: Final = "losing"
STALLED: Final = "stalled"
BEHIND: Final = "behind"
OUT_OF_REACH: Final = "target out of reach"
ON_PLAN: Final = "on plan"

# In the order in which the board shows them; the first that holds is the status.
STATUSES: Final = (
    REFER,
    NOT_ALLOWED,
    TOO_FAST,
    TOO_FEW,
    TOO_EARLY,
    REACHED,
    PAST,
    LOSING,
    STALLED,
    BEHIND,
    OUT_OF_REACH,
    ON_PLAN,
)
NEEDS_DECISION: Final = frozenset(STATUSES) - {TOO_FEW, TOO_EARLY, ON_PLAN}

HELD_WITHIN_KG: Final = 0.5  # of the target, once reached; common practice, no source

OFF_PLAN: Final = frozenset({LOSING, STALLED, BEHIND})


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSettings:
    """What a program allows, and how sure a status has to be.

    Ceiling: the upper end of the 0.25-0.5 % of body mass per week advised for novices in resistance
    training (Iraki et al. 2019, Sports 7(7):154; adults). Referral limits: common practice, no source.
    The thresholds were set by `alarms.alarm_study`.
    """

    ceiling_percent: float = 0.5
    plan_percent: float = 0.25  # offered for a new plan; judged is what the plan itself says
    refer_percent: float = 1.0
    refer_loss_percent: float = 2.0  # in two weeks
    refer_chance: float = 0.8
    too_fast_chance: float = 0.8
    losing_chance: float = 0.8
    false_share: float = 0.06  # of stays on plan ever called off plan; sets each plan's limit (`power`)
    behind_chance: float = 0.91  # the limit where a program's noise is not known yet
    reach_chance: float = 0.1  # out of reach: less than this, and the rate needed is above the ceiling
    half_plan_chance: float = 0.2  # stalled: less than this to be at half the planned rate or more
    fewest_two_weeks: int = 6  # weigh-ins
    settling_weeks: float = 1.0  # gut content and water of the first week are not tissue
    early_weeks: float = 3.0
    youngest: float = 14.0  # years at the plan's start
    level: float = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Looks:
    """Plans on the day they are looked at; every array has one entry per look."""

    mean: Floats  # (look, 3) state after the last weigh-in, of the filter centred on the plan
    cov: Floats  # (look, 3, 3)
    lost_percent: Floats  # of body mass over two weeks, negative for a gain, NaN where not known
    weighins_two_weeks: NDArray[np.int64]
    weeks_seen: Floats  # of weigh-ins in this stay
    weeks_in: Floats  # of the plan
    days_left: NDArray[np.int64]  # to the target date, may be negative
    planned_rate: Floats
    start_kg: Floats
    target_kg: Floats
    allowed: Flags
    no_rate: Flags | None = None  # too little for any: what came out would be the prior
    limit: Floats | None = None  # chance to be below plan that calls a plan off plan; else as in the settings
    later: Mixture | None = None  # mass on the target date; without it the plan's own filter foretells


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What each look says, and the status that comes first."""

    kg: Floats
    kg_se: Floats
    rate: Floats
    rate_se: Floats
    ceiling_rate: Floats
    forecast_kg: Floats
    forecast_se: Floats
    chance_target: Floats
    chance_below_plan: Floats
    chance_above_ceiling: Floats
    chance_losing: Floats
    chance_half_plan: Floats  # to gain at half the planned rate or more
    chance_refer: Floats  # to gain faster than the referral limit
    status: NDArray[np.object_]


def judge(looks: Looks, variances: MassVariances, settings: PlanSettings) -> Judged:
    """Return forecasts, chances and the status of each look."""
    kg, rate = looks.mean[:, LEVEL], looks.mean[:, RATE]
    kg_se = np.sqrt(looks.cov[:, LEVEL, LEVEL])
    rate_se = np.sqrt(looks.cov[:, RATE, RATE])
    ahead, ahead_se = forecast(looks.mean, looks.cov, np.maximum(looks.days_left, 0), variances)
    chance_target = chance_above(looks.target_kg, ahead, ahead_se)
    if looks.later is not None:
        ahead, ahead_se = looks.later.centre(), looks.later.spread()
        chance_target = 1.0 - looks.later.below(looks.target_kg)
    ceiling = settings.ceiling_percent / 100.0 * kg
    judged = Judged(
        kg=kg,
        kg_se=kg_se,
        rate=rate,
        rate_se=rate_se,
        ceiling_rate=ceiling,
        forecast_kg=ahead,
        forecast_se=ahead_se,
        chance_target=chance_target,
        chance_below_plan=chance_below(looks.planned_rate, rate, rate_se),
        chance_above_ceiling=chance_above(ceiling, rate, rate_se),
        chance_losing=chance_below(np.zeros_like(rate), rate, rate_se),
        chance_half_plan=chance_above(looks.planned_rate / 2.0, rate, rate_se),
        chance_refer=chance_above(settings.refer_percent / 100.0 * kg, rate, rate_se),
        status=np.empty(kg.size, dtype=object),
    )
    judged.status[:] = _first_status(looks, judged, settings)
    return judged


def is_above(kg: float, target_kg: float) -> bool:
    """Return whether a trend has left its target behind: further above it than mass is held within.

    >>> is_above(75.9, 75.5), is_above(77.6, 75.5)
    (False, True)
    """
    return kg - target_kg > HELD_WITHIN_KG


def chance_above(limit: Floats, mean: Floats, se: Floats) -> Floats:
    """Return the chance that a normally distributed truth is above the limit.

    All of one shape (n,), or numbers, in one unit; `se` is the standard error of `mean`.

    >>> round(float(chance_above(np.array(0.376), np.array(0.62), np.array(0.10))), 3)
    0.993
    """
    return np.asarray(norm.sf(limit, loc=mean, scale=se), dtype=float)


def chance_below(limit: Floats, mean: Floats, se: Floats) -> Floats:
    """Return the chance that a normally distributed truth is below the limit.

    All of one shape (n,), or numbers, in one unit; `se` is the standard error of `mean`.
    """
    return np.asarray(norm.cdf(limit, loc=mean, scale=se), dtype=float)


def needed_rate(kg: Floats, target_kg: Floats, days_left: NDArray[np.int64]) -> Floats:
    """Return the steady rate that reaches the target on its date, NaN from that date on, 0 where reached.

    All (n,), masses in kg; the result (n,) in kg a week.
    """
    weeks = np.where(days_left > 0, days_left / DAYS_PER_WEEK, np.nan)
    return np.asarray(np.maximum(target_kg - kg, 0.0) / weeks, dtype=float)


def reachable_kg(kg: Floats, ceiling_rate: Floats, days_left: NDArray[np.int64]) -> Floats:
    """Return the mass reached by the target date at the ceiling, as if it never changed (not compound).

    All (n,), `ceiling_rate` in kg a week; the result (n,) in kg.
    """
    return np.asarray(kg + ceiling_rate * np.maximum(days_left, 0) / DAYS_PER_WEEK, dtype=float)


def extra_weeks(kg: Floats, target_kg: Floats, ceiling_rate: Floats, days_left: NDArray[np.int64]) -> Floats:
    """Return by how many weeks the date would have to move for the target to be reached at the ceiling.

    All (n,), masses in kg, `ceiling_rate` in kg a week; the result (n,) in weeks, never below 0.
    """
    missing = np.maximum(target_kg - kg, 0.0) / ceiling_rate - np.maximum(days_left, 0) / DAYS_PER_WEEK
    return np.asarray(np.maximum(missing, 0.0), dtype=float)


def needs_referral(looks: Looks, judged: Judged, settings: PlanSettings) -> tuple[Flags, Flags]:
    """Return which looks show too great a loss, and which a gain too fast to be tissue; both (n,), one entry a look."""
    settled = looks.weeks_seen >= settings.settling_weeks
    loss = np.nan_to_num(looks.lost_percent, nan=0.0) > settings.refer_loss_percent
    return settled & loss, _rated(looks) & settled & (judged.chance_refer >= settings.refer_chance)


def _first_status(looks: Looks, judged: Judged, settings: PlanSettings) -> NDArray[np.object_]:
    loss, gain = needs_referral(looks, judged, settings)
    limit = settings.behind_chance if looks.limit is None else looks.limit
    behind = judged.chance_below_plan >= limit
    missing = needed_rate(judged.kg, looks.target_kg, looks.days_left)
    gaining = looks.target_kg > looks.start_kg
    holds = {
        REFER: loss | gain,
        NOT_ALLOWED: ~looks.allowed,
        TOO_FAST: is_too_fast(looks, judged, settings),
        TOO_FEW: is_too_few(looks.weighins_two_weeks, looks.weeks_seen, settings),
        TOO_EARLY: is_too_early(np.minimum(looks.weeks_seen, looks.weeks_in), settings),
        REACHED: gaining & (judged.kg >= looks.target_kg),
        PAST: looks.days_left <= 0,
        # behind as well: near a planned rate of zero, falling alone is chance as often as not
        LOSING: behind & (judged.chance_losing >= settings.losing_chance),
        STALLED: behind & (judged.chance_half_plan < settings.half_plan_chance),
        BEHIND: behind,
        OUT_OF_REACH: (judged.chance_target < settings.reach_chance) & (missing > judged.ceiling_rate),
        ON_PLAN: np.ones(judged.kg.size, dtype=bool),
    }
    at = np.argmax(np.stack([holds[status] for status in STATUSES]), axis=0)
    first: NDArray[np.object_] = np.array(STATUSES, dtype=object)[at]
    return first


def is_too_few(weighins_two_weeks: NDArray[np.int64], weeks_seen: Floats, settings: PlanSettings) -> Flags:
    """Return which looks rest on too few weigh-ins in the last two weeks.

    Both (n,), one entry a look; the result (n,).
    """
    return np.asarray(weighins_two_weeks < settings.fewest_two_weeks * np.minimum(weeks_seen / 2.0, 1.0))


def is_too_early(weeks: Floats, settings: PlanSettings) -> Flags:
    """Return which looks come before there are weeks enough to tell.

    `weeks` since the plan began (n,); the result (n,).
    """
    return np.asarray(weeks < settings.early_weeks)


def is_too_fast(looks: Looks, judged: Judged, settings: PlanSettings) -> Flags:
    """Return which looks show a gain above the ceiling, once there are weeks enough to tell: (n,), one entry a look."""
    observed = looks.weeks_seen >= settings.early_weeks
    return _rated(looks) & observed & (judged.chance_above_ceiling >= settings.too_fast_chance)


def _rated(looks: Looks) -> Flags:
    every = np.ones(looks.planned_rate.shape, dtype=bool)
    return every if looks.no_rate is None else ~looks.no_rate
