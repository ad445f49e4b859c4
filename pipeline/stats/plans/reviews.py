"""Weight plans on the day of their latest weigh-in: where they stand, and what has to be decided."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import DAYS_PER_WEEK, LEVEL, RATE
from latewood.pipeline.stats.engine.normal import norm
from latewood.pipeline.stats.engine.switching import Mixture, Modes, forecast_modes
from latewood.pipeline.stats.plans.allowed import barred_plans
from latewood.pipeline.stats.plans.known import known_until
from latewood.pipeline.stats.plans.noise import alarm_variances
from latewood.pipeline.stats.plans.plan_start import believed_start, trend_at_start
from latewood.pipeline.stats.plans.power import AlarmLimit, alarm_limits, limit_for
from latewood.pipeline.stats.plans.results import PlanPower, PlanReview
from latewood.pipeline.stats.plans.rules import (
    NEEDS_DECISION,
    NOT_ALLOWED,
    TOO_FEW,
    Judged,
    Looks,
    PlanSettings,
    extra_weeks,
    judge,
    needed_rate,
    reachable_kg,
)
from latewood.pipeline.stats.plans.weighin import FinalStates, MassFit, last_modes, last_states
from latewood.pipeline.stats.plans.words import false_alarm, why

Floats = NDArray[np.float64]

METHOD: Final = (
    "rate and chance of the target: a mass that moves or is held, interacting Kalman filters; alarms: plan-centred "
    "filter; pooled variances; weekly looks"
)
# Fewer weigh-ins, or days from the first to the last, give no rate: what came out would be the prior. By choice.
FEWEST_FOR_RATE: Final = 3
SHORTEST_FOR_RATE: Final = 7
_DAY: Final = np.timedelta64(1, "D")
_DATES: Final = ("start_on", "target_on", "ended_on")


@dataclass(frozen=True, slots=True, kw_only=True)
class Observed:
    """The reviewed plans as arrays, in one order, with their last weigh-in."""

    plans: pd.DataFrame
    as_of: NDArray[np.datetime64]
    n_weighins: NDArray[np.int64]
    looks: Looks
    unknown: NDArray[np.bool_]  # too little for a rate
    modes: Modes  # moving and held, after the last weigh-in
    pace: Mixture  # mean rate of the last weeks, kg a week
    ahead: Mixture  # mass on the target date, kg
    limits: tuple[AlarmLimit, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CampPeople:
    """The athletes and their stays, with the columns of their tables, and growth stages by athlete."""

    people: pd.DataFrame
    stays: pd.DataFrame
    stages: Mapping[str, str] = field(default_factory=dict)


def plan_reviews(
    plans: pd.DataFrame,
    camp: CampPeople,
    mass_fit: MassFit,
    settings: PlanSettings | None = None,
    power: Sequence[PlanPower] = (),
) -> tuple[PlanReview, ...]:
    """Return one review per active plan (highest version, not ended), ordered by plan_id.

    `plans` has the columns of its table. A review rests on the weigh-ins since the plan began; rates are kg a week
    and the planned rate is the straight one, not compound. Before the growth peak no plan is allowed. `power` holds
    the alarm's limits, set by the program's own noise; without them the settings' limit is taken.
    """
    rules = settings or PlanSettings()
    active = active_plans(plans, camp, rules, mass_fit.trend)
    if not any_weighin(active, mass_fit):
        return tuple(_unseen(row, rules) for row in active.to_dict("records"))
    active["known_until"] = known_until(active, camp.stays, mass_fit.use)
    observed = observed_plans(active, mass_fit)
    limits = plan_limits(observed, power, rules)
    looks = replace(observed.looks, limit=np.array([one.chance for one in limits]))
    observed = replace(observed, looks=looks, limits=limits)
    made = _reviews(observed, judge(looks, mass_fit.variances, rules), rules)
    rows = active.to_dict("records")
    return tuple(made.get(str(row["plan_id"])) or _unseen(row, rules) for row in rows)


def active_plans(
    plans: pd.DataFrame, camp: CampPeople, settings: PlanSettings, trend: pd.DataFrame
) -> pd.DataFrame:
    """Return the plans in force with stay_id, planned_rate and `barred` (why not allowed, else '').

    Whether a rate is allowed is reckoned from the mass `trend` at the start, not from the start as typed.
    """
    latest = plans.sort_values(["plan_id", "version"], kind="stable").drop_duplicates("plan_id", keep="last")
    frame = latest[latest["ended_on"].isna()].reset_index(drop=True)
    for column in _DATES:
        frame[column] = pd.to_datetime(frame[column]).dt.as_unit("s")
    frame["stay_id"] = _stay_of(frame, camp.stays)
    weeks = (frame["target_on"] - frame["start_on"]).dt.days / DAYS_PER_WEEK
    gain = frame["target_kg"] - frame["start_kg"]
    frame["planned_rate"] = (gain / weeks.where(weeks > 0)).fillna(0.0)
    begins = believed_start(frame["start_kg"].to_numpy(float), trend_at_start(frame, trend))
    frame["barred"] = barred_plans(frame, camp.people, camp.stages, settings, begins)
    return frame


def _stay_of(frame: pd.DataFrame, stays: pd.DataFrame) -> pd.Series[str]:
    """Return each plan's stay: as stated, else the athlete's latest stay begun by the target date, else ''."""
    known = stays[["stay_id", "athlete_id", "arrived_on"]].copy()
    known["arrived_on"] = pd.to_datetime(known["arrived_on"]).dt.as_unit("s")
    pairs = frame[["plan_id", "athlete_id", "target_on"]].merge(known, on="athlete_id", how="inner")
    pairs = pairs[pairs["arrived_on"] <= pairs["target_on"]].sort_values(["arrived_on", "stay_id"])
    result = pairs.drop_duplicates("plan_id", keep="last").set_index("plan_id")["stay_id"]
    guessed = frame["plan_id"].map(result).astype(object)
    stated = frame["stay_id"].astype(object)
    return stated.where(stated.notna(), guessed).fillna("").astype(str)


def any_weighin(active: pd.DataFrame, mass_fit: MassFit) -> bool:
    """Whether any plan has a used weigh-in since it began."""
    use = mass_fit.use
    own = use.loc[
        use["used"].astype(bool) & use["stay_id"].isin(active["stay_id"]), ["stay_id", "measured_on"]
    ]
    observed = active[["stay_id", "start_on"]].astype(object).merge(own.astype(object), on="stay_id")
    return bool(len(observed)) and bool(
        (pd.to_datetime(observed["measured_on"]) >= pd.to_datetime(observed["start_on"])).any()
    )


def observed_plans(active: pd.DataFrame, mass_fit: MassFit) -> Observed:
    """Return the plans with a used weigh-in since they began, as looks."""
    used = mass_fit.use.loc[mass_fit.use["used"], ["stay_id", "measured_on", "kg"]]
    lines = active[["plan_id", "athlete_id", "stay_id", "start_on", "planned_rate"]]
    rows = lines.merge(used, on="stay_id")
    rows = rows[rows["measured_on"] >= rows["start_on"]]
    days = (rows["measured_on"] - rows["start_on"]).dt.days
    rows = rows.assign(stay_id=rows["plan_id"])
    planned = {str(k): float(v) for k, v in zip(active["plan_id"], active["planned_rate"], strict=True)}
    final = last_modes(rows, mass_fit.course, planned)
    modes = final.modes
    rows = rows.assign(kg=rows["kg"] - rows["planned_rate"] * days / DAYS_PER_WEEK)
    states = last_states(rows, alarm_variances(mass_fit.variances))
    plans = active.set_index("plan_id").loc[list(states.stay_id)].reset_index()
    by_plan = rows.groupby("plan_id")["measured_on"].agg(["size", "min", "max"]).reindex(list(states.stay_id))
    counts, spans = by_plan["size"], (by_plan["max"] - by_plan["min"]).dt.days
    looks = _looks(plans, states, used, mass_fit.trend)
    course, unknown = mass_fit.course, no_rate(counts, spans)
    later = forecast_modes(modes, np.maximum(looks.days_left, 0), course.variances, course.handover)
    return Observed(
        plans=plans,
        as_of=states.on_date,
        n_weighins=np.asarray(counts, dtype=np.int64),
        looks=replace(looks, later=later, no_rate=unknown),
        unknown=unknown,
        modes=modes,
        pace=final.pace,
        ahead=later,
    )


def no_rate(counts: pd.Series[int], spans: pd.Series[int]) -> NDArray[np.bool_]:
    """Return where there is too little for a rate; weigh-ins and days from the first to the last, (n,)."""
    return np.asarray((counts < FEWEST_FOR_RATE) | (spans < SHORTEST_FOR_RATE))


def plan_limits(seen: Observed, power: Sequence[PlanPower], settings: PlanSettings) -> tuple[AlarmLimit, ...]:
    """Return the alarm's limit of each plan, for its own weeks and the weigh-ins a week it has had."""
    known = alarm_limits(power)
    weeks = (seen.plans["target_on"] - seen.plans["start_on"]).dt.days / DAYS_PER_WEEK
    often = (seen.n_weighins - 1) / np.maximum(seen.looks.weeks_in, 1.0)
    return tuple(
        limit_for(known, float(rate), float(length), settings)
        for rate, length in zip(often, weeks, strict=True)
    )


def _looks(plans: pd.DataFrame, states: FinalStates, used: pd.DataFrame, trend: pd.DataFrame) -> Looks:
    start_on = plans["start_on"].to_numpy("datetime64[D]")
    days_in = (states.on_date - start_on) / _DAY
    planned = plans["planned_rate"].to_numpy(float)
    mean = states.mean.copy()
    mean[:, LEVEL] += planned * days_in / DAYS_PER_WEEK
    mean[:, RATE] += planned
    on = pd.DataFrame({"stay_id": plans["stay_id"], "as_of": states.on_date.astype("datetime64[s]")})
    first_on = on["stay_id"].map(trend.groupby("stay_id")["on_date"].min())
    until = plans.get("known_until", on["as_of"])
    last = on["as_of"].where(until.isna() | (until < on["as_of"]), until)
    return Looks(
        mean=mean,
        cov=states.cov,
        lost_percent=_lost_percent(on, first_on, trend),
        weighins_two_weeks=_recent(on.assign(last=last), used),
        weeks_seen=np.asarray((last - first_on).dt.days, dtype=float) / DAYS_PER_WEEK,
        weeks_in=days_in / DAYS_PER_WEEK,
        days_left=((plans["target_on"].to_numpy("datetime64[D]") - states.on_date) // _DAY).astype(np.int64),
        planned_rate=planned,
        start_kg=plans["start_kg"].to_numpy(float),
        target_kg=plans["target_kg"].to_numpy(float),
        allowed=(plans["barred"] == "").to_numpy(bool),
    )


def _lost_percent(on: pd.DataFrame, first_on: pd.Series[pd.Timestamp], trend: pd.DataFrame) -> Floats:
    """Return the loss of the smoothed trend over two weeks, or since the first weigh-in if later."""
    kg = trend.set_index(["stay_id", "on_date"])["smoothed_kg"]
    since = np.maximum(on["as_of"] - pd.Timedelta(days=14), first_on)
    then = kg.reindex(pd.MultiIndex.from_arrays([on["stay_id"], since])).to_numpy(float)
    now = kg.reindex(pd.MultiIndex.from_arrays([on["stay_id"], on["as_of"]])).to_numpy(float)
    return np.asarray(100.0 * (then - now) / then, dtype=float)


def _recent(on: pd.DataFrame, used: pd.DataFrame) -> NDArray[np.int64]:
    """Return on how many of the 14 days up to `last` there is a used weigh-in."""
    days = used[["stay_id", "measured_on"]].drop_duplicates()
    near = on.reset_index(names="look").merge(days, on="stay_id")
    behind = (near["last"] - near["measured_on"]).dt.days
    counts = near[(behind >= 0) & (behind < 14)].groupby("look").size()
    return np.asarray(counts.reindex(range(len(on)), fill_value=0), dtype=np.int64)


def _reviews(seen: Observed, judged: Judged, settings: PlanSettings) -> dict[str, PlanReview]:
    """Return the review of each looked-at plan by plan_id."""
    plans, looks = seen.plans, seen.looks
    columns: dict[str, object] = {
        **_where_it_is(seen, judged, settings),
        **_where_it_goes(seen, judged, settings),
        "status": judged.status,
        "needs_decision": [status in NEEDS_DECISION for status in judged.status],
        "false_alarm": [
            false_alarm(status, share, limit.false_share)
            for status, share, limit in zip(
                judged.status, looks.planned_rate / judged.ceiling_rate, seen.limits, strict=True
            )
        ],
        "alarm_from": [limit.chance for limit in seen.limits],
        "alarm_share": [limit.false_share for limit in seen.limits],
        "reason": [
            barred if status == NOT_ALLOWED else why(at, looks, judged, settings)
            for at, (status, barred) in enumerate(zip(judged.status, plans["barred"], strict=True))
        ],
    }
    rows = pd.DataFrame(columns).astype(object)
    rows.loc[seen.unknown, list(_NEED_A_RATE)] = None
    rows = rows.where(rows.notna(), None)
    return {
        str(row["plan_id"]): PlanReview(
            as_of=day.item(), level=settings.level, method=METHOD, **{str(k): v for k, v in row.items()}
        )
        for row, day in zip(rows.to_dict("records"), seen.as_of, strict=True)
    }


def _where_it_is(seen: Observed, judged: Judged, settings: PlanSettings) -> dict[str, object]:
    """Return the columns about the day of the look."""
    plans, looks = seen.plans, seen.looks
    half = float(norm.ppf(0.5 + settings.level / 2.0))
    length = (plans["target_on"] - plans["start_on"]).dt.days.to_numpy(float) / DAYS_PER_WEEK
    rate, tail = seen.pace, 0.5 - settings.level / 2.0
    return {
        "plan_id": plans["plan_id"].astype(str),
        "athlete_id": plans["athlete_id"].astype(str),
        "stay_id": plans["stay_id"].astype(str),
        "n_weighins": seen.n_weighins,
        "weighins_two_weeks": looks.weighins_two_weeks,
        "weeks_in": looks.weeks_in,
        "weeks_left": looks.days_left / DAYS_PER_WEEK,
        "trend_kg": judged.kg,
        "trend_low": judged.kg - half * judged.kg_se,
        "trend_high": judged.kg + half * judged.kg_se,
        "rate": rate.centre(),
        "rate_low": rate.quantile(tail),
        "rate_high": rate.quantile(1.0 - tail),
        "rate_percent": 100.0 * rate.centre() / judged.kg,
        "planned_rate": looks.planned_rate,
        "ceiling_rate": judged.ceiling_rate,
        "line_kg": looks.start_kg
        + looks.planned_rate * np.clip(looks.weeks_in, 0.0, np.maximum(length, 0.0)),
    }


def _where_it_goes(seen: Observed, judged: Judged, settings: PlanSettings) -> dict[str, object]:
    """Return the columns about the target date."""
    plans, looks = seen.plans, seen.looks
    kg, target, days_left = judged.kg, plans["target_kg"].to_numpy(float), looks.days_left
    tail, ahead = 0.5 - settings.level / 2.0, seen.ahead
    return {
        "needed_rate": needed_rate(kg, target, days_left),
        "forecast_kg": judged.forecast_kg,
        "forecast_low": ahead.quantile(tail),
        "forecast_high": ahead.quantile(1.0 - tail),
        "chance_target": judged.chance_target,
        "chance_below_plan": judged.chance_below_plan,
        "chance_above_ceiling": judged.chance_above_ceiling,
        "chance_losing": judged.chance_losing,
        "reachable_kg": reachable_kg(kg, judged.ceiling_rate, days_left),
        "extra_weeks": extra_weeks(kg, target, judged.ceiling_rate, days_left),
    }


_NEED_A_RATE: Final = (
    *("rate", "rate_low", "rate_high", "rate_percent", "forecast_kg", "forecast_low", "forecast_high"),
    *("chance_target", "chance_below_plan", "chance_above_ceiling", "chance_losing"),
)
_UNKNOWN: Final = (
    *("trend_kg", "trend_low", "trend_high", "rate", "rate_low", "rate_high", "rate_percent"),
    *("ceiling_rate", "needed_rate", "line_kg", "forecast_kg", "forecast_low", "forecast_high"),
    *("chance_target", "chance_below_plan", "chance_above_ceiling", "chance_losing"),
    *("reachable_kg", "extra_weeks", "false_alarm"),
)


def _unseen(row: Mapping[Hashable, Any], settings: PlanSettings) -> PlanReview:
    """Return the review of a plan without a usable weigh-in since it began."""
    barred = str(row["barred"])
    unknown: dict[str, Any] = dict.fromkeys(_UNKNOWN)
    return PlanReview(
        plan_id=str(row["plan_id"]),
        athlete_id=str(row["athlete_id"]),
        stay_id=str(row["stay_id"]),
        as_of=row["start_on"].date(),
        n_weighins=0,
        weighins_two_weeks=0,
        weeks_in=0.0,
        weeks_left=(row["target_on"] - row["start_on"]).days / DAYS_PER_WEEK,
        planned_rate=float(row["planned_rate"]),
        status=NOT_ALLOWED if barred else TOO_FEW,
        needs_decision=bool(barred),
        reason=barred or "no weigh-in since the plan began",
        level=settings.level,
        method=METHOD,
        **unknown,
    )
