"""Tests beside a weight plan: do strength and outputs keep pace, do splits suffer; first days against the latest.

A change is the mean of the latest test days less the mean of the first ones; its standard error is the typical error
between test days times the root of 1/n + 1/m (Hopkins 2000, Sports Med 30:1-15).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.stats.engine.normal import norm
from latewood.pipeline.stats.plans.results import PlanGuard

STRENGTH, PER_KG, SPLIT, OUTPUT = "strength", "strength per kg", "split", "output"
# What counts as slower for a plan; strength per kg may fall by 3 %. Common practice, no source.
SLOWER: Final[Mapping[str, float]] = {
    handles.SPRINT_10YD: 0.03,
    handles.SPRINT_60YD: 0.05,
}
PER_KG_FALL: Final = 0.03
OUTPUTS: Final = (
    handles.EXIT_SPEED,
    handles.PITCH_SPEED,
    handles.WINDMILL_PITCH_SPEED,
    handles.THROW_SPEED,
)
GUARDING: Final = (handles.TRAP_BAR_DEADLIFT, *SLOWER, *OUTPUTS)  # all tests that are looked at
FIRST_DAYS: Final = 7  # test days until a week after the plan began are its first ones
LATEST_DAYS: Final = 14  # test days this near to the latest one count with it


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardChange:
    """A change between two groups of test days."""

    n_before: int
    n_after: int
    before: float
    after: float
    change: float
    standard_error: float

    def chance_above(self, limit: float) -> float:
        """The chance that the true change is above the limit."""
        return float(norm.sf(limit, loc=self.change, scale=self.standard_error))


def change_between(before: Sequence[float], after: Sequence[float], typical_error: float) -> GuardChange:
    """Return the change of means and its standard error, all in the unit of the values.

    >>> found = change_between([7.12], [7.21], 0.07)
    >>> round(found.standard_error, 3), round(found.chance_above(0.0), 2), round(found.chance_above(0.05), 2)
    (0.099, 0.82, 0.66)
    """
    first, last = float(np.mean(before)), float(np.mean(after))
    return GuardChange(
        n_before=len(before),
        n_after=len(after),
        before=first,
        after=last,
        change=last - first,
        standard_error=typical_error * float(np.sqrt(1.0 / len(before) + 1.0 / len(after))),
    )


def per_kg_change(
    strength: GuardChange, mass_before: float, mass_after: float, mass_se: float
) -> GuardChange:
    """Return the relative change of strength per kg of body mass, as a share, by the delta method.

    `mass_se` is the standard error of one trend mass, in kg. Before and after are kg lifted per kg.

    >>> found = per_kg_change(change_between([112.0], [128.0], 4.0), 66.1, 66.3, 0.2)
    >>> round(found.before, 2), round(found.after, 2)
    (1.69, 1.93)
    """
    before, after = strength.before / mass_before, strength.after / mass_after
    each = (strength.standard_error / np.sqrt(1.0 / strength.n_before + 1.0 / strength.n_after)) ** 2
    variance = each / strength.n_before / strength.before**2 + each / strength.n_after / strength.after**2
    variance += (mass_se / mass_before) ** 2 + (mass_se / mass_after) ** 2
    return GuardChange(
        n_before=strength.n_before,
        n_after=strength.n_after,
        before=before,
        after=after,
        change=after / before - 1.0,
        standard_error=float(np.sqrt(variance) * after / before),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DaysCompared:
    """The first and the latest test days of a plan in one line: values, last day of the first and of the latest."""

    line: str
    first: Sequence[float]
    latest: Sequence[float]
    first_on: date
    latest_on: date


def plan_guards(
    plans: pd.DataFrame,
    sessions: pd.DataFrame,
    trend: pd.DataFrame,
    typical_errors: Mapping[tuple[str, str], float],
    strength: str = handles.TRAP_BAR_DEADLIFT,
) -> tuple[PlanGuard, ...]:
    """Return one row per plan and test that has first and latest test days in one line.

    `plans` has plan_id, stay_id and start_on; `sessions` stay_id, measure, line, held_on, value; `trend` the columns
    of MassTrend. The line with most test days is taken.
    """
    roles = {strength: STRENGTH, **dict.fromkeys(SLOWER, SPLIT), **dict.fromkeys(OUTPUTS, OUTPUT)}
    stays = plans["stay_id"].unique()
    wanted = sessions[sessions["measure"].isin(list(roles)) & sessions["stay_id"].isin(stays)]
    by_stay = {str(key): rows for key, rows in wanted.groupby("stay_id")}
    mass_by_stay = {str(key): rows for key, rows in trend[trend["stay_id"].isin(stays)].groupby("stay_id")}
    result: list[PlanGuard] = []
    for plan in plans.to_dict("records"):
        stay, start_on = str(plan["stay_id"]), pd.Timestamp(plan["start_on"]).date()
        rows = by_stay.get(stay)
        if rows is None:
            continue
        for measure, role in roles.items():
            days = _days_compared(rows[rows["measure"] == measure], start_on)
            error = None if days is None else typical_errors.get((measure, days.line))
            if days is None or error is None:
                continue
            guard = _guard(str(plan["plan_id"]), measure, role, days, error)
            result.append(guard)
            if role == STRENGTH and stay in mass_by_stay:
                result.append(_per_kg(guard, mass_by_stay[stay]))
    return tuple(result)


def _days_compared(own: pd.DataFrame, start_on: date) -> DaysCompared | None:
    """The days of the line with most sessions; None without a first and a later one."""
    if own.empty:
        return None
    line = str(own["line"].value_counts().sort_index().idxmax())
    own = own[own["line"] == line].sort_values("held_on", kind="stable")
    days = [pd.Timestamp(day).date() for day in own["held_on"]]
    values = own["value"].tolist()
    border = start_on + timedelta(days=FIRST_DAYS)
    recent = [day for day in days if day > border]
    first = [value for day, value in zip(days, values, strict=True) if day <= border]
    if not recent or not first:
        return None
    late = max(recent) - timedelta(days=LATEST_DAYS)
    last = [value for day, value in zip(days, values, strict=True) if day > border and day >= late]
    first_on = max(day for day in days if day <= border)
    return DaysCompared(line=line, first=first, latest=last, first_on=first_on, latest_on=max(recent))


def _guard(plan_id: str, measure: str, role: str, days: DaysCompared, error: float) -> PlanGuard:
    change = change_between(days.first, days.latest, error)
    margin = SLOWER.get(measure, 0.0)
    better = 1.0 - change.chance_above(0.0) if role == SPLIT else change.chance_above(0.0)
    worse = change.chance_above(margin) if role == SPLIT else 1.0 - change.chance_above(-margin)
    return PlanGuard(
        plan_id=plan_id, measure=measure, line=days.line, role=role, n_before=change.n_before,
        n_after=change.n_after, before_on=days.first_on, after_on=days.latest_on, before=change.before,
        after=change.after, change=change.change, standard_error=change.standard_error, chance_better=better,
        chance_worse=worse, margin=margin,
    )  # fmt: skip


def _per_kg(guard: PlanGuard, mass: pd.DataFrame) -> PlanGuard:
    days = pd.to_datetime(mass["on_date"])

    def near(on: date) -> tuple[float, float]:
        at = int(np.argmin(np.abs((days - pd.Timestamp(on)).dt.days.to_numpy())))
        return float(mass["smoothed_kg"].iloc[at]), float(mass["smoothed_se"].iloc[at])

    (before_kg, before_se), (after_kg, after_se) = near(guard.before_on), near(guard.after_on)
    strength = GuardChange(
        n_before=guard.n_before, n_after=guard.n_after, before=guard.before, after=guard.after,
        change=guard.change, standard_error=guard.standard_error,
    )  # fmt: skip
    ratio = per_kg_change(strength, before_kg, after_kg, max(before_se, after_se))
    return PlanGuard(
        plan_id=guard.plan_id, measure=guard.measure, line=guard.line, role=PER_KG, n_before=guard.n_before,
        n_after=guard.n_after, before_on=guard.before_on, after_on=guard.after_on, before=ratio.before,
        after=ratio.after, change=ratio.change, standard_error=ratio.standard_error,
        chance_better=ratio.chance_above(0.0), chance_worse=1.0 - ratio.chance_above(-PER_KG_FALL), margin=PER_KG_FALL,
    )  # fmt: skip
