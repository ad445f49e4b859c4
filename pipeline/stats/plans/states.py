"""Mass and rate at the last weigh-in: of each plan by its own filter, of each stay without one by the ordinary one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import LEVEL, RATE, MassVariances
from latewood.pipeline.stats.plans.results import PlanState
from latewood.pipeline.stats.plans.reviews import CampPeople, active_plans, any_weighin, observed_plans
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.stats.plans.weighin import MassFit

Floats = NDArray[np.float64]


def plan_states(
    plans: pd.DataFrame, camp: CampPeople, mass_fit: MassFit, settings: PlanSettings | None = None
) -> tuple[PlanState, ...]:
    """Return the state behind each plan review, so that chances agree, and of every stay without a plan."""
    variances = mass_fit.variances
    result: list[PlanState] = []
    if len(plans):
        active = active_plans(plans, camp, settings or PlanSettings(), mass_fit.trend)
        if any_weighin(active, mass_fit):
            observed = observed_plans(active, mass_fit)
            keys = list(zip(observed.plans["stay_id"], observed.plans["plan_id"], strict=True))
            result += _states(keys, observed.as_of, observed.looks.mean, observed.looks.cov, variances)
    planned = {state.stay_id for state in result}
    final = mass_fit.final
    free = [at for at, stay in enumerate(final.stay_id) if stay not in planned]
    result += _states(
        [(final.stay_id[at], "") for at in free],
        final.on_date[free],
        final.mean[free],
        final.cov[free],
        variances,
    )
    return tuple(result)


def _states(
    keys: Sequence[tuple[str, str]],
    on_date: NDArray[np.datetime64],
    mean: Floats,
    cov: Floats,
    variances: MassVariances,
) -> list[PlanState]:
    days = on_date.astype("datetime64[D]")
    columns: Mapping[str, Floats] = {
        "kg": mean[:, LEVEL],
        "kg_se": np.sqrt(cov[:, LEVEL, LEVEL]),
        "rate": mean[:, RATE],
        "rate_se": np.sqrt(cov[:, RATE, RATE]),
        "covariance": cov[:, LEVEL, RATE],
    }
    return [
        PlanState(
            stay_id=str(stay),
            plan_id=str(plan),
            as_of=days[at].item(),
            level_sd=variances.level_sd,
            rate_sd=variances.rate_sd,
            **{name: float(values[at]) for name, values in columns.items()},
        )
        for at, (stay, plan) in enumerate(keys)
    ]
