"""What another target, date or rate would mean: needed rate, share of body mass, chance; and the energy of a gap."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Final

import numpy as np

from latewood.pipeline.stats.engine.kalman import DAYS_PER_WEEK, LEVEL, RATE, TYPICAL, MassVariances
from latewood.pipeline.stats.engine.normal import norm
from latewood.pipeline.stats.engine.switching import Handover, Mixture, Modes, forecast_modes
from latewood.pipeline.stats.plans.results import PlanState

# Energy of tissue, kcal per kg: fat 39.5 MJ, lean 7.6 MJ (Hall 2008, Int J Obes 32:573-576; from memory, not
# verified). The often quoted 7,700 kcal per kg is nearly all fat. What a young athlete adds is not known beforehand:
# a quarter to three quarters of it fat is taken as the range (common practice, no source).
FAT_KCAL: Final = 9440.0
LEAN_KCAL: Final = 1820.0
FAT_SHARES: Final = (0.25, 0.75)
UNKNOWN_START: Final = 1.0  # kg; standard error of a start mass that is typed without weigh-ins behind it


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """Needed rate (kg a week) and its share of body mass, and the chance to reach the target by the date.

    Where no rate is known, neither is what mass is to be expected: None.
    """

    weeks: float
    needed_rate: float
    needed_percent: float
    expected_kg: float | None
    low: float | None  # 95 %
    high: float | None
    chance: float | None


def what_if(state: PlanState, target_kg: float, target_on: date, rate: float | None = None) -> WhatIf:
    """Return what a target and date would mean from where an athlete stands.

    With `rate` (kg a week) the chance is that of an athlete who gains at this rate from now on, known as well as
    today's rate is; without it, that of today's trend, which fades over 25 weeks. Raises ValueError for a date that
    is not after the last weigh-in.
    """
    days = (target_on - state.as_of).days
    if days <= 0:
        raise ValueError("target_on: not after the last weigh-in; give a later date")
    weeks = days / DAYS_PER_WEEK
    kg = (1.0 - state.held) * state.kg + state.held * state.held_kg
    needed = max(target_kg - kg, 0.0) / weeks
    unknown = WhatIf(
        weeks=weeks, needed_rate=needed, needed_percent=100.0 * needed / kg,
        expected_kg=None, low=None, high=None, chance=None,
    )  # fmt: skip
    if not state.rate_known:
        return unknown
    later = _ahead(state, days)
    if rate is not None:
        steady = np.full((2, 1), kg + rate * weeks)
        later = Mixture(later.weight, steady, np.repeat(later.sd[:1], 2, axis=0))
    return replace(
        unknown,
        expected_kg=float(later.centre()[0]),
        low=float(later.quantile(0.025)[0]),
        high=float(later.quantile(0.975)[0]),
        chance=float(1.0 - later.below(np.array([target_kg]))[0]),
    )


def _ahead(state: PlanState, days: int) -> Mixture:
    """Return the mass so many days on; water is not in a state, and not in a mass to come."""
    mean, cov = np.zeros((3, 2, 1)), np.zeros((3, 3, 2, 1))
    mean[LEVEL, :, 0], mean[RATE, :, 0] = (state.kg, state.held_kg), (state.rate, state.held_rate)
    cov[LEVEL, LEVEL, :, 0] = state.kg_se**2, state.held_kg_se**2
    cov[RATE, RATE, :, 0] = state.rate_se**2, state.held_rate_se**2
    cov[LEVEL, RATE, :, 0] = cov[RATE, LEVEL, :, 0] = state.covariance, state.held_covariance
    variances = MassVariances(
        level_sd=state.level_sd, rate_sd=state.rate_sd, water_sd=0.0, persistence=0.0, reading_sd=0.0,
        start_rate=0.0, start_rate_sd=0.0,
    )  # fmt: skip
    modes = Modes(np.array([[1.0 - state.held], [state.held]]), mean, cov)
    handover = Handover(hold=state.hold_chance, restart=state.restart_chance)
    return forecast_modes(modes, np.array([days]), variances, handover)


def state_without_weighins(start_kg: float, as_of: date, variances: MassVariances = TYPICAL) -> PlanState:
    """Return the state of an athlete of whom only a start mass is known, no rate."""
    return PlanState(
        stay_id="", plan_id="", as_of=as_of, kg=start_kg, kg_se=UNKNOWN_START, rate=variances.start_rate,
        rate_se=variances.start_rate_sd, covariance=0.0, level_sd=variances.level_sd, rate_sd=variances.rate_sd,
        rate_known=False,
    )  # fmt: skip


def energy_gap(gap: float, gap_se: float, level: float = 0.8) -> tuple[float, float]:
    """Return the lowest and highest energy, kcal a day, that a gap in the rate (kg a week) may stand for.

    Tissue of 25 % to 75 % fat, and the interval of the gap at `level`: wide on purpose. What is eaten above it is
    partly lost as heat and movement, so that the true need may be larger still.

    >>> [round(end) for end in energy_gap(0.2, 0.0)]
    [106, 215]
    """
    half = float(norm.ppf(0.5 + level / 2.0)) * gap_se
    densities = [share * FAT_KCAL + (1.0 - share) * LEAN_KCAL for share in FAT_SHARES]
    ends = [end * density / DAYS_PER_WEEK for end in (gap - half, gap + half) for density in densities]
    return min(ends), max(ends)
