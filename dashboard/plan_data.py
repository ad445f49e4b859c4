"""Reads of the published warehouse for the plan screens, and what measuring again would tell."""

from __future__ import annotations

from dashboard import data, plan_actions, rows
from dashboard.views.plans import PlanRecord
from pipeline.ingest.planlog import hidden_masses
from pipeline.ingest.program import data_dir, load_program
from pipeline.stats import results
from pipeline.stats.plan_rules import PlanSettings


def record(build: rows.Build) -> PlanRecord:
    """Everything that the board of weight plans is made from, with the plan log as it is now."""
    events = plan_actions.plan_log(build)
    return PlanRecord(
        reviews=data.plan_reviews(build),
        plans=data.plans(build),
        mass=data.plan_mass(build),
        weighins=data.plan_weighins(build),
        advice=data.read_rows(build, "plan_advice", results.PlanAdvice),
        since=data.read_rows(build, "plan_since", results.PlanSince),
        events=events,
        hidden=hidden_masses(events),
    )


def guards(build: rows.Build) -> tuple[results.PlanGuard, ...]:
    """The tests beside every plan."""
    return data.read_rows(build, "plan_guards", results.PlanGuard)


def retests(build: rows.Build, athlete_id: str) -> tuple[results.RetestAdvice, ...]:
    """What more test days would do to one athlete's verdicts that are not clear yet."""
    return data.read_rows(build, "athlete_retests", results.RetestAdvice, athlete_id=athlete_id)


def guard_retests(build: rows.Build) -> tuple[results.GuardRetest, ...]:
    """What more test days would do to the tests beside every plan."""
    return data.read_rows(build, "guard_retests", results.GuardRetest)


def states(build: rows.Build) -> tuple[results.PlanState, ...]:
    """Mass and rate at the last weigh-in of every stay."""
    return data.read_rows(build, "plan_states", results.PlanState)


def power(build: rows.Build) -> tuple[results.PlanPower, ...]:
    """How soon the alarm of a plan calls a stall, by weigh-ins a week, gap and week."""
    return data.read_rows(build, "plan_power", results.PlanPower)


def stages(build: rows.Build) -> dict[str, str]:
    """The growth stage of every young athlete, by athlete."""
    return {one.athlete_id: one.stage for one in data.read_rows(build, "growth_stages", results.GrowthStage)}


def versions(build: rows.Build, plan_id: str) -> tuple[rows.Plan, ...]:
    """Every version of one plan."""
    return data.read_rows(build, "plan_versions", rows.Plan, plan_id=plan_id)


def settings() -> PlanSettings:
    """What the program allows."""
    program = load_program(data_dir())
    return PlanSettings(
        ceiling_percent=program.ceiling_percent,
        plan_percent=program.plan_percent,
        refer_percent=program.refer_percent,
    )
