"""Trend and plan with a weigh-in that no build holds yet: the same functions, with the variances of the last build.

A build pools the variances over all stays, and one weigh-in hardly moves them. With them as they were, only the stays
that something was typed for are filtered and only their plans reviewed. What comes of it is provisional: the next
build works all of it out anew, and `differences` says where it came out otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date
from typing import Any, Final

import numpy as np
import pandas as pd

from latewood.pipeline.stats.engine.kalman import MassVariances
from latewood.pipeline.stats.engine.switching import Handover
from latewood.pipeline.stats.plans.massvariance import CourseFit
from latewood.pipeline.stats.plans.results import (
    MassTrend,
    PlanPower,
    PlanReview,
    PlanState,
    PooledVariance,
    WeighinUse,
)
from latewood.pipeline.stats.plans.reviews import CampPeople, plan_reviews
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.stats.plans.states import plan_states
from latewood.pipeline.stats.plans.weighin import MassFit, mass_trends

COURSE: Final = "course_"
TOLERANCE_KG: Final = 0.05  # half of what a scale shows; a trend that a build moves by more is reported


@dataclass(frozen=True, slots=True, kw_only=True)
class LastBuild:
    """What the last build holds about the stays that something was typed for, and about the camp around them.

    `weighins` has athlete_id, stay_id, camp_id, measured_on and kg, one row a day, of those stays alone; `others`
    stay_id, measured_on and used, at least the last used weigh-in of every other stay of their camps; `plans` the
    columns of its table, for those athletes.
    """

    weighins: pd.DataFrame
    others: pd.DataFrame
    plans: pd.DataFrame
    camp: CampPeople
    variances: MassVariances
    course: CourseFit
    settings: PlanSettings
    power: Sequence[PlanPower] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Provisional:
    """Every row about body mass and plans of the stays concerned, as the next build is expected to have them."""

    mass: tuple[MassTrend, ...] = ()
    weighins: tuple[WeighinUse, ...] = ()
    reviews: tuple[PlanReview, ...] = ()
    states: tuple[PlanState, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildDifference:
    """Where a build came out otherwise than what was shown before it; kg is None where it did not take the value."""

    athlete_id: str
    stay_id: str
    on_date: date
    shown_kg: float
    built_kg: float | None
    shown_status: str  # '' without a plan
    built_status: str


def pooled_rows(variances: MassVariances, course: CourseFit) -> tuple[PooledVariance, ...]:
    """What was pooled over the stays, one row a number; what is of moving and held masses begins with course_."""
    held = {**asdict(course.variances), **asdict(course.handover), "n_stays": course.n_stays}
    numbers = {**asdict(variances), **{f"{COURSE}{name}": value for name, value in held.items()}}
    return tuple(PooledVariance(name=name, value=float(value)) for name, value in numbers.items())


def pooled_of(rows: Sequence[PooledVariance]) -> tuple[MassVariances, CourseFit]:
    """The same out of its rows; raises TypeError where one is missing."""
    plain = {row.name: row.value for row in rows if not row.name.startswith(COURSE)}
    held = {row.name.removeprefix(COURSE): row.value for row in rows if row.name.startswith(COURSE)}
    chances = {one.name: held.pop(one.name) for one in fields(Handover) if one.name in held}
    n_stays = int(held.pop("n_stays", 0))
    course = CourseFit(variances=MassVariances(**held), handover=Handover(**chances), n_stays=n_stays)
    return MassVariances(**plain), course


def provisional_mass(typed: pd.DataFrame, last: LastBuild) -> Provisional:
    """Return trend, states and plan reviews of the stays of `last.weighins` and `typed`, with the typed weigh-ins.

    `typed` has the columns of `last.weighins`, for days that it does not have.
    """
    weighins = pd.concat([part for part in (last.weighins, typed) if len(part)] or [last.weighins])
    stays = set(weighins["stay_id"])
    fit = mass_trends(weighins, last.variances, last.course)
    if not len(fit.trend):
        return Provisional()
    seen = MassFit(
        trend=fit.trend,
        use=_with_others(fit.use, last.others),
        final=fit.final,
        pooled=fit.pooled,
        course=fit.course,
    )
    reviews = plan_reviews(last.plans, last.camp, seen, last.settings, last.power) if len(last.plans) else ()
    states = plan_states(last.plans, last.camp, fit, last.settings)
    return Provisional(
        mass=tuple(MassTrend(**row) for row in _rows(fit.trend)),
        weighins=tuple(WeighinUse(**row) for row in _rows(fit.use)),
        reviews=tuple(one for one in reviews if one.stay_id in stays),
        states=tuple(one for one in states if one.stay_id in stays),
    )


def _with_others(use: pd.DataFrame, others: pd.DataFrame) -> pd.DataFrame:
    """The weigh-ins with those of the rest of the camp: they show up to which day a silent scale is known."""
    beside = others[~others["stay_id"].isin(use["stay_id"])]
    if not len(beside):
        return use
    days = pd.to_datetime(beside["measured_on"]).dt.as_unit("s")
    more = beside.assign(measured_on=days, athlete_id="", kg=np.nan, reason="")
    return pd.concat([use, more[list(use.columns)]], ignore_index=True)


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows with days as dates."""
    columns: dict[str, list[Any]] = {str(name): frame[name].tolist() for name in frame.columns}
    for name in frame.columns[frame.dtypes.astype(str).str.startswith("datetime64")]:
        columns[str(name)] = frame[name].dt.date.tolist()
    return [dict(zip(columns, values, strict=True)) for values in zip(*columns.values(), strict=True)]


def differences(
    shown: Provisional, mass: Sequence[MassTrend], reviews: Sequence[PlanReview]
) -> tuple[BuildDifference, ...]:
    """Where a build's trend and reviews are not what was shown: a trend by more than TOLERANCE_KG, or a status.

    A stay that has been weighed again since is compared by its trend alone, on the day that was shown.
    """
    built = {(row.stay_id, row.on_date): row.kg for row in mass}
    until = {row.stay_id: row.on_date for row in sorted(mass, key=lambda row: row.on_date)}
    status = {one.plan_id: one.status for one in reviews}
    planned = {one.stay_id: one for one in shown.reviews}
    last = {row.stay_id: row for row in shown.mass}
    result = []
    for stay, row in last.items():
        kg, plan = built.get((stay, row.on_date)), planned.get(stay)
        same_day = until.get(stay) == row.on_date
        then = plan.status if plan is not None else ""
        now = status.get(plan.plan_id, "") if plan is not None and same_day else then
        if kg is None or abs(kg - row.kg) > TOLERANCE_KG or now != then:
            result.append(
                BuildDifference(
                    athlete_id=row.athlete_id,
                    stay_id=stay,
                    on_date=row.on_date,
                    shown_kg=row.kg,
                    built_kg=kg,
                    shown_status=then,
                    built_status=now,
                )
            )
    return tuple(result)
