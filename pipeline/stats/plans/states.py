"""Mass and rate at the last weigh-in, moving and held: of each plan since it began, of each stay without one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import LEVEL, RATE
from latewood.pipeline.stats.engine.switching import HELD, MOVING, Modes
from latewood.pipeline.stats.plans.massvariance import CourseFit
from latewood.pipeline.stats.plans.results import PlanState
from latewood.pipeline.stats.plans.reviews import CampPeople, active_plans, any_weighin, observed_plans
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
            result += _states(keys, observed.as_of, observed.modes, mass_fit.course)
    planned = {state.stay_id for state in result}
    used = mass_fit.use[mass_fit.use["used"].astype(bool) & ~mass_fit.use["stay_id"].isin(planned)]
    if len(used):
        free = last_modes(used, mass_fit.course)
        result += _states([(stay, "") for stay in free.stay_id], free.on_date, free.modes, mass_fit.course)
    return tuple(result)


def _states(
    keys: Sequence[tuple[str, str]], on_date: NDArray[np.datetime64], modes: Modes, course: CourseFit
) -> list[PlanState]:
    days = on_date.astype("datetime64[D]")
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
            **{name: float(values[at]) for name, values in columns.items()},
        )
        for at, (stay, plan) in enumerate(keys)
    ]
