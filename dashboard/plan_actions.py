"""What the plan and weigh-in screens do to the program; who does it is always an argument."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from dashboard.views.plan_seen import seen_of
from pipeline.ingest import entered, plan_forms, planlog
from pipeline.ingest.program import data_dir
from pipeline.stats.results import PlanReview


def decide(
    review: PlanReview, decision: str, by: str, review_on: date, note: str, *, attendance_poor: bool
) -> None:
    """Write a decision about a plan down with what was seen; raises DecisionError."""
    seen = {**seen_of(review)}
    planlog.record_decision(
        data_dir(),
        plan_id=review.plan_id,
        athlete_id=review.athlete_id,
        decision=decision,
        by=by,
        review_on=review_on,
        note=note,
        seen=seen,
        attendance_poor=attendance_poor,
    )


def save_plan(draft: plan_forms.PlanDraft, by: str) -> str:
    """Write a plan or a new version down and return its id; raises DecisionError."""
    return plan_forms.save_plan(data_dir(), draft, by).plan_id


def hide_mass(athlete_id: str, by: str, *, hidden: bool) -> None:
    """Hide an athlete's mass on screens, or show it again; raises DecisionError."""
    planlog.hide_mass(data_dir(), athlete_id, by, hidden=hidden)


def plan_log() -> tuple[planlog.PlanEvent, ...]:
    """Every event of the plan log, read at each run so that a new one is seen at once."""
    return planlog.read_log(data_dir())


def enter(
    by: str,
    athlete_id: str,
    measure: str,
    day: date,
    value: str,
    unit: str,
    *,
    trial: int = 1,
    conditions: Mapping[str, str] | None = None,
    confirmed: str = "",
) -> entered.Entry:
    """Save one typed value; raises DecisionError."""
    return entered.enter(
        data_dir(),
        by=by,
        athlete_id=athlete_id,
        measure=measure,
        measured_on=day,
        value=value,
        unit=unit,
        trial=trial,
        conditions=conditions,
        confirmed=confirmed,
    )


def take_back(entry: entered.Entry, by: str) -> None:
    """Take a typed value back; raises DecisionError."""
    entered.take_back(data_dir(), entry, by)


def entries(day: date) -> tuple[entered.Entry, ...]:
    """What was typed on a day and stands."""
    return entered.standing_entries(data_dir(), day)
