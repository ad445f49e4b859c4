"""How soon a weight plan's alarm would call a stall: known when the plan is made, from the program's own noise.

Stays are simulated with the water, scale and wander that the program's filter has learned; filter and alarm are
the ones of the reviews. The alarm's limit comes from the same stays: of those exactly on plan, only a stated share
may ever pass it over the plan's own weeks, at the plan's own number of weigh-ins. The filter is linear: what it
makes of a stay that falls short by g kg a week is what it makes of the noise alone less g times what it makes of a
steady ramp, so that one run serves every gap.

The wander is taken to stay around the plan's line with four weeks' memory, as in `alarms`: a body that drifted
without bound would be off its plan by drifting alone. Looks after every week, as the board is read.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import (
    DAYS_PER_WEEK,
    RATE,
    MassVariances,
    Weighed,
    run_filter,
    terms_of,
)
from latewood.pipeline.stats.engine.normal import norm
from latewood.pipeline.stats.plans.noise import WANDER_MEMORY_DAYS, alarm_variances, autoregressive
from latewood.pipeline.stats.plans.results import PlanPower
from latewood.pipeline.stats.plans.rules import PlanSettings, is_too_early, is_too_few

Floats = NDArray[np.float64]

SEED: Final = 20_330_211
N_STAYS: Final = 2000
MOST_WEEKS: Final = 20
PLAN_WEEKS: Final = (
    6,
    8,
    12,
    MOST_WEEKS,
)  # a limit is set for each; a plan in between takes the next longer one's
PER_WEEK: Final = (3, 4, 5, 6, 7)  # with fewer the rule of six in two weeks leaves the plan unjudged
GAPS: Final = (*(round(0.02 * k, 2) for k in range(16)), 0.35, 0.40, 0.45, 0.50, 0.60)  # kg a week
WEEKS_TOLD: Final = (2, 3, 4, 6)
STEP: Final = 0.01  # of a variance's logarithm; moves a share by far less than its simulation error
METHOD: Final = (
    "simulated stays with the program's own noise, plan-centred filter, weekly looks, limit set so that a stated "
    "share of stays on plan ever passes it; a stall from the first day on"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeeklyLooks:
    """What the filter makes of noise and of a ramp of 1 kg a week, over its error, (week, stay)."""

    noise: Floats
    ramp: Floats
    judged: NDArray[np.bool_]  # a look with weigh-ins and weeks enough


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedStays:
    """How many stays are simulated, weighed on how many random mornings a week, for how many weeks."""

    n: int
    per_week: int
    weeks: int = MOST_WEEKS


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """The alarm of plans of so many weeks, weighed so often a week, and its limit."""

    per_week: int
    weeks: int
    limit: float  # chance to be below plan


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmLimit:
    """From which chance a plan is called off plan, and what share of athletes exactly on it ever is."""

    chance: float
    false_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmPower:
    """The power of one plan's alarm, from the nearest cells that are no better than the plan."""

    per_week: int
    weeks: int
    full: tuple[tuple[int, float], ...]  # week, share of full stalls called by its look
    half: tuple[tuple[int, float], ...]  # the same where the athlete gains at half the planned rate
    full_median: int | None  # weeks until half of the full stalls are called; None: not within the plan
    half_median: int | None
    false_share: float  # of stays exactly on plan ever called off plan
    standard_error: float  # the largest of the shares shown
    n_stays: int


def on_steps(variances: MassVariances) -> MassVariances:
    """The variances on steps of 1 %: how sure an alarm is needs no more, and one weigh-in seldom moves it then."""
    spreads = {
        k: float(np.exp(_stepped(np.log(v)))) for k, v in asdict(variances).items() if k.endswith("_sd")
    }
    odds = np.log(variances.persistence / (1.0 - variances.persistence))
    persistence = float(1.0 / (1.0 + np.exp(-_stepped(odds))))
    return replace(variances, **spreads, persistence=persistence, start_rate=0.0)


def _stepped(logarithm: float) -> float:
    return round(float(logarithm) / STEP) * STEP


def plan_power(
    variances: MassVariances,
    settings: PlanSettings,
    *,
    n_stays: int = N_STAYS,
    seed: int = SEED,
    gaps: Sequence[float] = GAPS,
) -> tuple[PlanPower, ...]:
    """Return limit and share called for every number of weigh-ins, length, gap and week; each time to the last bit."""
    result: list[PlanPower] = []
    for per_week in PER_WEEK:
        rng = np.random.default_rng((seed, per_week))
        stays = SimulatedStays(n=n_stays, per_week=per_week)
        looked = look_at(rng, variances, settings, stays)
        for weeks in PLAN_WEEKS:
            limit = limit_of(looked, weeks, settings.false_share)
            cell = Cell(per_week=per_week, weeks=weeks, limit=limit)
            for gap in gaps:
                result += _rows(cell, gap, called_by(looked, gap, limit)[:weeks], variances)
    return tuple(result)


def limit_of(looked: WeeklyLooks, weeks: int, share: float) -> float:
    """The chance to be below plan from which a plan of so many weeks is called off plan.

    Of the stays exactly on plan, `share` ever reaches it. Never under one half: below it the rate is as likely to be
    above the plan.
    """
    lowest = np.where(looked.judged, looked.noise, np.inf)[:weeks].min(axis=0)
    limit = np.quantile(lowest, share)
    return float(norm.cdf(max(-limit, 0.0)))


def _rows(cell: Cell, gap: float, called: NDArray[np.bool_], variances: MassVariances) -> list[PlanPower]:
    n = called.shape[1]
    return [
        PlanPower(
            per_week=cell.per_week,
            plan_weeks=cell.weeks,
            gap_rate=gap,
            week=week,
            called=float(share),
            standard_error=float(np.sqrt(max(share * (1.0 - share), 1.0 / n) / n)),
            alarm_from=cell.limit,
            n_stays=n,
            day_sd=float(np.hypot(variances.water_sd, variances.reading_sd)),
            level_sd=variances.level_sd,
            method=METHOD,
        )
        for week, share in enumerate(called.mean(axis=1), start=1)
    ]


def look_at(
    rng: np.random.Generator,
    variances: MassVariances,
    settings: PlanSettings,
    stays: SimulatedStays,
    filtered_with: MassVariances | None = None,
) -> WeeklyLooks:
    """Return weekly looks at simulated stays exactly on plan.

    The filter takes the noise to be the simulated one, unless `filtered_with` says otherwise.
    """
    weeks, n_stays = stays.weeks, stays.n
    days = int(DAYS_PER_WEEK) * weeks + 1
    kg = _noise(rng, variances, (days, n_stays))
    readings = _mornings(rng, stays)
    terms = terms_of(alarm_variances(filtered_with or variances))
    at = int(DAYS_PER_WEEK) * np.arange(1, weeks + 1)
    observed = run_filter(Weighed(kg, readings), kg[0], terms)
    error = np.sqrt(observed.after_cov[at, RATE, RATE])
    steady = np.broadcast_to(np.arange(days)[:, None] / DAYS_PER_WEEK, (days, n_stays))
    response = run_filter(Weighed(steady, readings), steady[0], terms).after[at, RATE]
    in_weeks = np.arange(1.0, weeks + 1.0)[:, None]
    return WeeklyLooks(
        noise=observed.after[at, RATE] / error,
        ramp=response / error,
        judged=~is_too_few(_two_weeks(readings, at), in_weeks, settings) & ~is_too_early(in_weeks, settings),
    )


def called_by(looked: WeeklyLooks, gap: float, limit: float) -> NDArray[np.bool_]:
    """Return whether each stay has been called off plan by each weekly look, at a gap in kg a week.

    `limit` is the chance to be below plan that calls it. The result (looks, stays).
    """
    off = (looked.noise - gap * looked.ramp <= -float(norm.ppf(limit))) & looked.judged
    return np.asarray(np.maximum.accumulate(off, axis=0))


def _noise(rng: np.random.Generator, variances: MassVariances, shape: tuple[int, int]) -> Floats:
    memory = float(np.exp(-1.0 / WANDER_MEMORY_DAYS))
    wander = autoregressive(rng, shape, memory, variances.level_sd / np.sqrt(1.0 - memory**2))
    water = autoregressive(rng, shape, variances.persistence, variances.water_sd)
    return wander + water + rng.normal(0.0, variances.reading_sd, shape)


def _mornings(rng: np.random.Generator, stays: SimulatedStays) -> NDArray[np.int64]:
    """Return weigh-ins (day, stay): the first day, then so many random mornings in each week."""
    rank = rng.random((stays.weeks, int(DAYS_PER_WEEK), stays.n)).argsort(axis=1).argsort(axis=1)
    chosen = (rank < stays.per_week).reshape(-1, stays.n)
    return np.vstack([np.ones((1, stays.n), dtype=bool), chosen]).astype(np.int64)


def _two_weeks(readings: NDArray[np.int64], at: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return weigh-ins of the 14 days that end at each look, (look, stay)."""
    total = np.vstack([np.zeros((1, readings.shape[1]), dtype=np.int64), np.cumsum(readings, axis=0)])
    return np.asarray(total[at + 1] - total[np.maximum(at - 13, 0)])


def alarm_power_of(
    rows: Iterable[PlanPower], planned_rate: float, per_week: float, weeks: float
) -> AlarmPower | str:
    """Return what the alarm of one plan can do, or in words why that cannot be said.

    Read from the nearest cell on the worse side: fewer weigh-ins, a smaller gap, an earlier week; for false
    alarms the later week. Beyond MOST_WEEKS shares are those of its first MOST_WEEKS weeks.
    """
    if planned_rate <= GAPS[1] * 2.0:
        return "the plan asks for so little gain that a stall cannot be separated from being on plan"
    usual, last = min(int(per_week + 1e-9), PER_WEEK[-1]), min(weeks, float(MOST_WEEKS))
    if usual < PER_WEEK[0]:
        return f"with fewer than {PER_WEEK[0]} weigh-ins a week the plan is not judged at all"
    length = _length(last)
    cells = [row for row in rows if row.per_week == usual and row.plan_weeks == length]
    if not cells or last < 1.0:
        return "not worked out yet" if not cells else "the plan is shorter than a week"
    full = _course(cells, planned_rate)
    half = _course(cells, planned_rate / 2.0)
    ends = [week for week in WEEKS_TOLD if week < int(last)] + [int(last)]
    on_plan = next(r for r in cells if r.gap_rate == 0.0 and r.week == int(np.ceil(last)))
    shown = [on_plan, *(course[week - 1] for course in (full, half) for week in ends)]
    return AlarmPower(
        per_week=usual,
        weeks=int(last),
        full=tuple((week, full[week - 1].called) for week in ends),
        half=tuple((week, half[week - 1].called) for week in ends),
        full_median=_median(full[: int(last)]),
        half_median=_median(half[: int(last)]),
        false_share=on_plan.called,
        standard_error=max(row.standard_error for row in shown),
        n_stays=on_plan.n_stays,
    )


def alarm_limits(rows: Iterable[PlanPower]) -> Mapping[tuple[int, int, int], AlarmLimit]:
    """The alarm's limit by weigh-ins a week, plan length and last week of the plan, from the table."""
    return {
        (row.per_week, row.plan_weeks, row.week): AlarmLimit(chance=row.alarm_from, false_share=row.called)
        for row in rows
        if row.gap_rate == 0.0
    }


def limit_for(
    limits: Mapping[tuple[int, int, int], AlarmLimit], per_week: float, weeks: float, settings: PlanSettings
) -> AlarmLimit:
    """The limit of one plan of so many weeks, weighed so often a week; without a table the usual one.

    A plan of more than MOST_WEEKS weeks has the limit of one of MOST_WEEKS.
    """
    last = max(min(weeks, float(MOST_WEEKS)), 1.0)
    usual = min(max(int(per_week + 1e-9), PER_WEEK[0]), PER_WEEK[-1])
    without = AlarmLimit(chance=settings.behind_chance, false_share=settings.false_share)
    return limits.get((usual, _length(last), int(np.ceil(last))), without)


def _length(weeks: float) -> int:
    return next(length for length in PLAN_WEEKS if weeks <= length)


def _course(cells: Sequence[PlanPower], gap: float) -> list[PlanPower]:
    """Return the cells of the largest gap that does not exceed the given one, week by week."""
    worse = max(row.gap_rate for row in cells if row.gap_rate <= gap + 1e-9)
    return sorted((row for row in cells if row.gap_rate == worse), key=lambda row: row.week)


def _median(course: Sequence[PlanPower]) -> int | None:
    return next((row.week for row in course if row.called >= 0.5), None)
