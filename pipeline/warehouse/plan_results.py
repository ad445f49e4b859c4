"""Everything that is worked out about weight plans, in one order, from the frames of a build."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.stats.change.results import MeasurementError
from latewood.pipeline.stats.engine.normal import norm
from latewood.pipeline.stats.plans.allowed import growth_stages
from latewood.pipeline.stats.plans.guard_retest import guard_retests
from latewood.pipeline.stats.plans.guards import GUARDING, plan_guards
from latewood.pipeline.stats.plans.power import on_steps, plan_power
from latewood.pipeline.stats.plans.results import PlanAdvice, PlanGuard, PlanPower, PlanReview, PlanState
from latewood.pipeline.stats.plans.reviews import CampPeople, plan_reviews
from latewood.pipeline.stats.plans.rules import PlanSettings, is_above
from latewood.pipeline.stats.plans.since import plan_since
from latewood.pipeline.stats.plans.states import plan_states
from latewood.pipeline.stats.plans.table import Evidence, first_row, with_tests
from latewood.pipeline.stats.plans.weighin import MassFit
from latewood.pipeline.warehouse.memo import Memo

REFERRED = "refer"
Z95 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanInputs:
    """The frames of a build that plans are judged from; `fit` is all that follows from `weighins`."""

    plans: pd.DataFrame
    stays: pd.DataFrame
    people: pd.DataFrame
    sessions: pd.DataFrame
    weighins: pd.DataFrame
    fit: MassFit
    settings: PlanSettings


def plan_results(
    record: PlanInputs, decisions: pd.DataFrame, errors: Sequence[MeasurementError], memo: Memo
) -> list[Sequence[Any]]:
    """Return stages, states, the alarm's power, reviews, guards, advice and what happened since each decision.

    States, power and reviews are found in the memo where no weigh-in, plan, person or growth stage changed; guards
    where neither the mass trend nor a test that they look at did.
    """
    growth = growth_stages(record.people, record.sessions)
    camp = CampPeople(
        people=record.people, stays=record.stays, stages={one.athlete_id: one.stage for one in growth}
    )
    judging = (record.plans, camp, record.fit, record.settings)
    entering = (record.plans, record.people, record.stays, camp.stages, record.weighins, record.settings)
    states = memo.results(PlanState, "plan_state", entering, partial(plan_states, *judging))
    power = alarm_power(record.fit, record.settings, memo)
    if not len(record.plans):
        return [growth, states, power]
    reviews = memo.results(PlanReview, "plan_review", entering, partial(plan_reviews, *judging, power))
    starts = record.plans.sort_values("version", kind="stable").drop_duplicates("plan_id", keep="last")
    start_on = starts.set_index("plan_id")["start_on"]
    judged = pd.DataFrame([
        {"plan_id": r.plan_id, "stay_id": r.stay_id, "start_on": start_on[r.plan_id]} for r in reviews
    ])
    guards = _guards(record, judged, errors, memo)
    made = [{str(k): v for k, v in row.items()} for row in decisions.to_dict("records")]
    targets = {str(p): float(kg) for p, kg in zip(starts["plan_id"], starts["target_kg"], strict=True)}
    facts = Beside(grown=_grown(judged, record.sessions), targets=targets)
    advice = plan_advice(reviews, guards, made, facts, record.settings)
    stay_of = {review.plan_id: review.stay_id for review in reviews}
    since = plan_since(made, stay_of, record.fit.use, record.fit.variances)
    return [growth, states, power, reviews, guards, guard_retests(guards), advice, since]


def alarm_power(fit: MassFit, settings: PlanSettings, memo: Memo) -> Sequence[PlanPower]:
    """What the alarm finds with the program's own noise, from the memo where that stayed the same."""
    noise = on_steps(fit.variances)
    return memo.results(PlanPower, "plan_power", (noise, settings), partial(plan_power, noise, settings))


def _guards(
    record: PlanInputs, judged: pd.DataFrame, errors: Sequence[MeasurementError], memo: Memo
) -> Sequence[PlanGuard]:
    tested = record.sessions.loc[record.sessions["measure"].isin(GUARDING)].reset_index(drop=True)
    typical = {
        (one.measure, one.line): one.typical_error
        for one in errors
        if one.typical_error is not None and one.measure in GUARDING
    }
    entering = (judged, tested, record.fit.trend, typical)
    return memo.results(PlanGuard, "plan_guard", entering, partial(plan_guards, *entering))


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """What stands beside the reviews, by plan: growth in height, cm, and the target, kg."""

    grown: Mapping[str, float]
    targets: Mapping[str, float]

    def is_above(self, review: PlanReview) -> bool:
        """Whether the trend has left the target behind."""
        return review.trend_kg is not None and is_above(review.trend_kg, self.targets[review.plan_id])


def plan_advice(
    reviews: Sequence[PlanReview],
    guards: Sequence[PlanGuard],
    decisions: Sequence[Mapping[str, Any]],
    beside: Beside,
    settings: PlanSettings,
) -> list[PlanAdvice]:
    """The row of the decision table of each review; of `decisions`, oldest first, the last of a plan counts."""
    last = {str(one["plan_id"]): one for one in decisions}
    result = []
    for review in reviews:
        text = last.get(review.plan_id, {})
        without_tests = Evidence(
            status=review.status,
            chance_refer=chance_of_referral(review, settings),
            referred=text.get("decision") == REFERRED,
            attendance_poor=bool(text.get("attendance_poor", False)),
            height_change=beside.grown.get(review.plan_id),
            above_target=beside.is_above(review),
            chance_target=review.chance_target,
        )
        row = first_row(
            with_tests(without_tests, [guard for guard in guards if guard.plan_id == review.plan_id])
        )
        result.append(
            PlanAdvice(
                plan_id=review.plan_id,
                table_row=row.number,
                words=row.words,
                offered=row.offered,
                why=review.reason,
                height_change=beside.grown.get(review.plan_id),
            )
        )
    return result


def chance_of_referral(review: PlanReview, settings: PlanSettings) -> float:
    """The chance that an athlete gains faster than the referral limit, from the interval of their rate."""
    if review.rate is None or review.trend_kg is None or review.rate_low is None or review.rate_high is None:
        return 0.0
    half = float(norm.ppf(0.5 + review.level / 2.0))
    spread = (review.rate_high - review.rate_low) / 2.0 / half
    return float(norm.sf(settings.refer_percent / 100.0 * review.trend_kg, loc=review.rate, scale=spread))


def _grown(judged: pd.DataFrame, sessions: pd.DataFrame) -> dict[str, float]:
    """The change in standing height, cm, from the first test day of the stay to the latest, by plan."""
    heights = sessions[sessions["measure"] == handles.STANDING_HEIGHT].sort_values("held_on", kind="stable")
    by_stay = {str(key): rows["value"] for key, rows in heights.groupby("stay_id")}
    return {
        str(plan): float(by_stay[str(stay)].iloc[-1] - by_stay[str(stay)].iloc[0])
        for plan, stay in zip(judged["plan_id"], judged["stay_id"], strict=True)
        if str(stay) in by_stay and len(by_stay[str(stay)]) > 1
    }
