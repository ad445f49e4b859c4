"""How far a plan's target mass is from today's, and what the link makes of the difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.catalogue.handles import BODY_MASS
from latewood.pipeline.stats.links.link_design import MASS_GAP_DAYS, Floats, carry
from latewood.pipeline.stats.links.results import MassLink


@dataclass(frozen=True, slots=True, kw_only=True)
class MassRecord:
    """`targets`: stay_id and target_kg of active plans; `mass`: stay_id, on_date, kg, se and the kg gained."""

    targets: pd.DataFrame
    mass: pd.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedMass:
    """What is planned for body mass and what goes with it: the plans, the links per kg, the trend of weigh-ins.

    `trend` has the columns of MassTrend; without it body mass is read from its sessions.
    """

    plans: pd.DataFrame
    links: Sequence[MassLink] = ()
    trend: pd.DataFrame | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """Change of the output from today's mass to the target (k,), half its interval, and why not ('')."""

    shift: Floats
    half: Floats
    reason: NDArray[np.object_]


def mass_record(session_values: pd.DataFrame, stays: pd.DataFrame, planned: PlannedMass) -> MassRecord:
    """The targets of active plans of athletes who are still there, and everybody's body mass."""
    mass = _weighed(session_values) if planned.trend is None else _smoothed(planned.trend)
    mass = mass.sort_values(["stay_id", "on_date"], kind="stable", ignore_index=True)
    first = mass.groupby("stay_id", sort=False)["kg"].transform("first")
    return MassRecord(targets=_targets(stays, planned.plans), mass=mass.assign(gained=mass["kg"] - first))


def _smoothed(mass_trend: pd.DataFrame) -> pd.DataFrame:
    names = {"smoothed_kg": "kg", "smoothed_se": "se"}
    return mass_trend[["stay_id", "on_date", *names]].rename(columns=names)


def _weighed(session_values: pd.DataFrame) -> pd.DataFrame:
    """Single weigh-ins, with the error of one of them from the steps between neighbours of a stay."""
    rows = session_values.loc[(session_values["measure"] == BODY_MASS) & session_values["stay_id"].notna()]
    rows = rows.sort_values(["stay_id", "held_on"], kind="stable")
    mass = rows[["stay_id", "held_on", "value"]].rename(columns={"held_on": "on_date", "value": "kg"})
    steps = mass.groupby("stay_id", sort=False)["kg"].diff().dropna().to_numpy(dtype=float)
    error = float(np.sqrt(np.mean(steps**2) / 2.0)) if len(steps) else float("nan")
    return mass.assign(se=error)


def _targets(stays: pd.DataFrame, plans: pd.DataFrame) -> pd.DataFrame:
    """The latest active plan of each stay that has not ended; plans without a stay are not looked at."""
    in_force = plans.sort_values("version", kind="stable").groupby("plan_id", sort=True).tail(1)
    there = stays.loc[stays["left_on"].isna(), "stay_id"]
    active = in_force.loc[in_force["ended_on"].isna() & in_force["stay_id"].isin(there)]
    active = active.assign(start=pd.to_datetime(active["start_on"])).sort_values(["start", "plan_id"])
    last = active.groupby("stay_id", sort=True).tail(1)
    return last[["stay_id", "target_kg"]].reset_index(drop=True)


def mass_outlook(record: MassRecord, latest: pd.DataFrame, link: MassLink | None) -> Outlook:
    """What reaching the target means for an output, for each row of `latest` (stay_id, held_on, target_kg).

    Variance of a product of two estimates (delta method with its second-order term: Goodman 1960, J Am Stat
    Assoc 55:708), with the quantile of the link. Refused where the link is refused or its interval holds zero,
    and where the target leaves the masses or the own gains seen in the record.
    """
    now = carry(record.mass, latest, ("kg", "se", "gained"), day="on_date", within_days=MASS_GAP_DAYS)
    kg, error, gained = now[:, 0], now[:, 1], now[:, 2]
    ahead = latest["target_kg"].to_numpy(dtype=float) - kg
    reason = np.full(len(latest), "", dtype=object)
    outside = _beyond(kg + ahead, record.mass["kg"]) | _beyond(gained + ahead, record.mass["gained"])
    reason[outside] = "the target leaves the masses and gains seen so far"
    reason[~np.isfinite(kg + error)] = "no body mass near the latest session"
    missing = np.full(len(latest), np.nan)
    if link is None or link.per_kg is None or link.standard_error is None or link.high is None:
        reason[:] = "no link between mass and this output: " + (link.reason if link else "none was estimated")
        return Outlook(shift=missing, half=missing, reason=reason)
    if link.verdict != "estimated":
        reason[:] = "the link between mass and this output may be zero"
        return Outlook(shift=missing, half=missing, reason=reason)
    slope_error = link.standard_error
    variance = (link.per_kg * error) ** 2 + (ahead * slope_error) ** 2 + (error * slope_error) ** 2
    quantile = (link.high - link.per_kg) / slope_error
    return Outlook(shift=link.per_kg * ahead, half=quantile * np.sqrt(variance), reason=reason)


def _beyond(values: Floats, seen: pd.Series) -> NDArray[np.bool_]:
    """Which values lie outside what was seen."""
    known = seen.to_numpy(dtype=float)
    if not len(known):
        return np.ones(len(values), dtype=bool)
    return np.asarray((values < known.min()) | (values > known.max()))
