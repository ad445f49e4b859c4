"""Mass and rate at the last weigh-in, moving and held: of each plan since it began, of each stay without one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import LEVEL, RATE
from latewood.pipeline.stats.engine.switching import HELD, MOVING, Modes
from latewood.pipeline.stats.plans.massvariance import CourseFit
from latewood.pipeline.stats.plans.results import PlanState
from latewood.pipeline.stats.plans.reviews import (
    CampPeople,
    active_plans,
    any_weighin,
    no_rate,
    observed_plans,
)
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.stats.plans.weighin import MassFit, last_modes

Floats = NDArray[np.float64]


def plan_states(
    plans: pd.DataFrame, camp: CampPeople, mass_fit: MassFit, settings: PlanSettings | None = None
) -> tuple[PlanState, ...]:
    """Return the state behind each plan review, so that chances agree, and of every stay without a plan."""
    result: list[PlanState] = []
    if len(plans):
        active = active_plans(plans, camp, settings or PlanSettings(), mass_fit.trend)
        if any_weighin(active, mass_fit):
            observed = observed_plans(active, mass_fit)
            keys = list(zip(observed.plans["stay_id"], observed.plans["plan_id"], strict=True))
            last = _Last(as_of=observed.as_of, modes=observed.modes, no_rate=observed.unknown)
            result += _states(keys, last, mass_fit.course)
    planned = {state.stay_id for state in result}
    used = mass_fit.use[mass_fit.use["used"].astype(bool) & ~mass_fit.use["stay_id"].isin(planned)]
    if len(used):
        free = last_modes(used, mass_fit.course)
        days = used.groupby("stay_id")["measured_on"].agg(["size", "min", "max"]).reindex(list(free.stay_id))
        unknown = no_rate(days["size"], (days["max"] - days["min"]).dt.days)
        last = _Last(as_of=free.on_date, modes=free.modes, no_rate=unknown)
        result += _states([(stay, "") for stay in free.stay_id], last, mass_fit.course)
    return tuple(result)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Last:
    """Where stays are after their last weigh-in."""

    as_of: NDArray[np.datetime64]
    modes: Modes
    no_rate: NDArray[np.bool_]


def _states(keys: Sequence[tuple[str, str]], last: _Last, course: CourseFit) -> list[PlanState]:
    days, modes = last.as_of.astype("datetime64[D]"), last.modes
    columns: dict[str, Floats] = {"held": modes.weight[HELD]}
    for mode, prefix in ((MOVING, ""), (HELD, "held_")):
        mean, cov = modes.mean[:, mode], modes.cov[:, :, mode]
        columns |= {
            f"{prefix}kg": mean[LEVEL],
            f"{prefix}kg_se": np.sqrt(cov[LEVEL, LEVEL]),
            f"{prefix}rate": mean[RATE],
            f"{prefix}rate_se": np.sqrt(cov[RATE, RATE]),
            f"{prefix}covariance": cov[LEVEL, RATE],
        }
    return [
        PlanState(
            stay_id=str(stay),
            plan_id=str(plan),
            as_of=days[at].item(),
            level_sd=course.variances.level_sd,
            rate_sd=course.variances.rate_sd,
            hold_chance=course.handover.hold,
            restart_chance=course.handover.restart,
            rate_known=not last.no_rate[at],
            **{name: float(values[at]) for name, values in columns.items()},
        )
        for at, (stay, plan) in enumerate(keys)
    ]
