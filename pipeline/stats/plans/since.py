"""What body mass did before and after a decision: two rates by generalised least squares.

Weigh-ins are correlated: water carries over from one morning to the next, and the level wanders. Their covariance
comes from the pooled variances of the program, so that the interval is not that of independent readings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import DAYS_PER_WEEK, MassVariances
from latewood.pipeline.stats.engine.normal import norm
from latewood.pipeline.stats.plans.results import PlanSince

Floats = NDArray[np.float64]

WINDOW_DAYS: Final = 21  # before the decision
FEWEST: Final = 5  # weigh-ins
SHORTEST_DAYS: Final = 7
METHOD: Final = "line by generalised least squares; water, scale and wander from the pooled variances"


def gls_rate(days: Floats, kg: Floats, variances: MassVariances) -> tuple[float, float]:
    """Return the rate in kg a week and its standard error. `days` and `kg` (n,), n at least 2, days rising."""
    design = np.column_stack((np.ones(days.size), days / DAYS_PER_WEEK))
    apart = np.abs(days[:, None] - days[None])
    since = days - days.min()
    covariance = variances.water_sd**2 * variances.persistence**apart
    covariance += variances.level_sd**2 * np.minimum(since[:, None], since[None])
    covariance[np.diag_indices(days.size)] += variances.reading_sd**2
    solved = np.linalg.solve(covariance, np.column_stack((design, kg)))
    information = design.T @ solved[:, :2]
    estimate = np.linalg.solve(information, design.T @ solved[:, 2])
    return float(estimate[1]), float(np.sqrt(np.linalg.inv(information)[1, 1]))


def plan_since(
    decisions: Sequence[Mapping[str, Any]],
    stay_of: Mapping[str, str],
    use: pd.DataFrame,
    variances: MassVariances,
    *,
    level: float = 0.95,
) -> tuple[PlanSince, ...]:
    """Return the rates before and after each decision.

    A decision has event_id, plan_id and decided_on; `stay_of` names the stay of a plan; `use` has the columns of
    WeighinUse. After a decision the rate runs to the next one about the same plan.
    """
    used = use[use["used"].astype(bool) & use["stay_id"].isin(set(stay_of.values()))]
    by_stay = {
        str(key): rows.sort_values("measured_on", kind="stable") for key, rows in used.groupby("stay_id")
    }
    result = []
    for at, one in enumerate(decisions):
        later = [
            d["decided_on"]
            for d in decisions[at + 1 :]
            if d["plan_id"] == one["plan_id"] and d["decided_on"] > one["decided_on"]
        ]
        rows = by_stay.get(stay_of.get(str(one["plan_id"]), ""))
        result.append(_since(one, rows, min(later, default=None), variances, level))
    return tuple(result)


def _since(
    one: Mapping[str, Any],
    rows: pd.DataFrame | None,
    until: date | None,
    variances: MassVariances,
    level: float,
) -> PlanSince:
    half = float(norm.ppf(0.5 + level / 2.0))
    on: date = one["decided_on"]
    days = [] if rows is None else [pd.Timestamp(day).date() for day in rows["measured_on"]]
    kg = [] if rows is None else [float(value) for value in rows["kg"]]
    pairs = list(zip(days, kg, strict=True))
    before = [(d, k) for d, k in pairs if on - timedelta(days=WINDOW_DAYS) <= d <= on]
    after = [(d, k) for d, k in pairs if d > on and (until is None or d <= until)]
    was, now = _rate(before, variances), _rate(after, variances)
    length = (after[-1][0] - on).days if after else 0
    return PlanSince(
        event_id=str(one["event_id"]),
        plan_id=str(one["plan_id"]),
        decided_on=on,
        n_before=len(before),
        rate_before=was[0] if was else None,
        before_low=was[0] - half * was[1] if was else None,
        before_high=was[0] + half * was[1] if was else None,
        n_after=len(after),
        days_after=length,
        rate_after=now[0] if now else None,
        after_low=now[0] - half * now[1] if now else None,
        after_high=now[0] + half * now[1] if now else None,
        reason=""
        if now
        else f"{len(after)} weigh-ins in {length} days since: {FEWEST} over {SHORTEST_DAYS} days are needed",
        level=level,
        method=METHOD,
    )


def _rate(pairs: Sequence[tuple[date, float]], variances: MassVariances) -> tuple[float, float] | None:
    if len(pairs) < FEWEST or (pairs[-1][0] - pairs[0][0]).days < SHORTEST_DAYS - 1:
        return None
    first = pairs[0][0]
    return gls_rate(
        np.array([(day - first).days for day, _ in pairs], dtype=float),
        np.array([kg for _, kg in pairs]),
        variances,
    )
