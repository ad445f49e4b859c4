"""What the plan and weigh-in screens do to the program, for a viewer who may; who does it is always an argument."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from latewood.dashboard.actions import following, rights
from latewood.dashboard.reads import rows
from latewood.dashboard.views.plans.plan_seen import observed_of
from latewood.pipeline.ingest.logs import entered, planlog
from latewood.pipeline.ingest.plans import plan_forms
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.stats.plans.results import PlanReview


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanDecision:
    """What a coach decided about a plan, when it is looked at again, and why."""

    decision: str
    review_on: date
    note: str
    attendance_poor: bool


def decide(build: rows.Build, review: PlanReview, made: PlanDecision, by: str) -> None:
    """Write a decision about a plan down with what was seen; raises DecisionError or ForbiddenError."""
    viewer = rights.may(build, "set plan", (review.athlete_id,))
    observed = {**observed_of(review)}
    planlog.record_decision(
        data_dir(),
        planlog.NewPlanDecision(
            plan_id=review.plan_id,
            athlete_id=review.athlete_id,
            decision=made.decision,
            review_on=made.review_on,
            note=made.note,
            seen=observed,
            attendance_poor=made.attendance_poor,
        ),
        viewer.signs(by),
    )


def save_plan(build: rows.Build, draft: plan_forms.PlanDraft, by: str) -> str:
    """Write a plan or a new version down and return its id; raises DecisionError."""
    viewer = rights.may(build, "set plan", (draft.athlete_id,))
    return plan_forms.save_plan(data_dir(), draft, viewer.signs(by)).plan_id


def trend_on(build: rows.Build, athlete_id: str, start_on: date) -> float | None:
    """The trend of the weigh-ins on a start day, kg, None where nobody weighed near it; raises ForbiddenError."""
    rights.may(build, "set plan", (athlete_id,))
    return plan_forms.trend_on(data_dir(), athlete_id, start_on)


def running_plan(build: rows.Build, athlete_id: str, start_on: date) -> plan_forms.Running | None:
    """The plan that runs for an athlete on a day, also one not built yet; raises ForbiddenError."""
    rights.may(build, "set plan", (athlete_id,))
    return plan_forms.running_plan(data_dir(), athlete_id, start_on)


def hide_mass(build: rows.Build, athlete_id: str, by: str, *, hidden: bool) -> None:
    """Hide an athlete's mass on screens, or show it again; raises DecisionError."""
    viewer = rights.may(build, "set plan", (athlete_id,))
    planlog.hide_mass(data_dir(), athlete_id, viewer.signs(by), hidden=hidden)


def plan_log(build: rows.Build, right: str = "plan") -> tuple[planlog.PlanEvent, ...]:
    """The events of the plan log the viewer may see, read at each run so that a new one is seen at once."""
    events = planlog.read_allowed(data_dir())
    observed = rights.covered(build, right, {one.athlete_id for one in events})
    return tuple(one for one in events if one.athlete_id in observed)


def enter(build: rows.Build, typed: entered.TypedEntry) -> entered.TypedEntry:
    """Save one typed value, an entry that has no id and time yet.

    Raises DecisionError, and EntryDoubtError where its question has to be confirmed.
    """
    signed = rights.may(build, "enter", (typed.athlete_id,)).signs(typed.by)
    result = entered.enter_once(data_dir(), replace(typed, by=signed))
    following.soon()
    return result


def note_absent(build: rows.Build, note: entered.TypedEntry) -> entered.TypedEntry:
    """Note that an athlete cannot be measured today, and why; raises DecisionError."""
    signed = rights.may(build, "enter", (note.athlete_id,)).signs(note.by)
    return entered.note_absent(data_dir(), replace(note, by=signed))


def sent_before(build: rows.Build, athlete_id: str, sent_id: str) -> entered.TypedEntry | None:
    """The line that a browser's entry was saved as, None where it was not; raises ForbiddenError."""
    rights.may(build, "enter", (athlete_id,))
    return entered.sent_before(data_dir(), sent_id)


def absences(build: rows.Build, day: date) -> tuple[entered.TypedEntry, ...]:
    """Who was noted on a day as not to be measured, as far as the viewer may see it."""
    result = entered.absences(data_dir(), day)
    observed = rights.covered(build, "entry", {one.athlete_id for one in result})
    return tuple(one for one in result if one.athlete_id in observed)


def take_back(build: rows.Build, entry: entered.TypedEntry, by: str) -> None:
    """Take a typed value back; raises DecisionError."""
    entered.take_back(data_dir(), entry, rights.may(build, "enter", (entry.athlete_id,)).signs(by))
    following.soon()


def entries(build: rows.Build, day: date) -> tuple[entered.TypedEntry, ...]:
    """What was typed on a day and stands, as far as the viewer may see it."""
    result = entered.current_entries(data_dir(), day)
    observed = rights.covered(build, "entry", {one.athlete_id for one in result})
    return tuple(one for one in result if one.athlete_id in observed)


def times_emptied(build: rows.Build, day: date) -> Mapping[entered.Slot, int]:
    """How often each trial typed on a day was left empty by an undo, as far as the viewer may see it."""
    result = entered.times_emptied(data_dir(), day)
    observed = rights.covered(build, "entry", {athlete for athlete, _, _ in result})
    return {slot: times for slot, times in result.items() if slot[0] in observed}
