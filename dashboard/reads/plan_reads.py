"""Reads of the published warehouse for the plan screens, and what measuring again would tell."""

from __future__ import annotations

from latewood.dashboard.actions import plan_actions
from latewood.dashboard.reads import rows, warehouse
from latewood.dashboard.views.plans.plans import PlanRecord
from latewood.pipeline.ingest.logs.planlog import hidden_masses
from latewood.pipeline.ingest.program import data_dir, load_program
from latewood.pipeline.stats import results
from latewood.pipeline.stats.plans.rules import PlanSettings


def record(build: rows.Build) -> PlanRecord:
    """Everything that the board of weight plans is made from, with the plan log as it is now."""
    events = plan_actions.plan_log(build)
    return PlanRecord(
        reviews=warehouse.plan_reviews(build),
        plans=warehouse.plans(build),
        mass=warehouse.plan_mass(build),
        weighins=warehouse.plan_weighins(build),
        advice=warehouse.read_rows(build, "plan_advice", results.PlanAdvice),
        since=warehouse.read_rows(build, "plan_since", results.PlanSince),
        events=events,
        hidden=hidden_masses(events),
    )


def guards(build: rows.Build) -> tuple[results.PlanGuard, ...]:
    """The tests beside every plan."""
    return warehouse.read_rows(build, "plan_guards", results.PlanGuard)


def retests(build: rows.Build, athlete_id: str) -> tuple[results.RetestAdvice, ...]:
    """What more test days would do to one athlete's verdicts that are not clear yet."""
    return warehouse.read_rows(build, "athlete_retests", results.RetestAdvice, athlete_id=athlete_id)


def guard_retests(build: rows.Build) -> tuple[results.GuardRetest, ...]:
    """What more test days would do to the tests beside every plan."""
    return warehouse.read_rows(build, "guard_retests", results.GuardRetest)


def states(build: rows.Build) -> tuple[results.PlanState, ...]:
    """Mass and rate at the last weigh-in of every stay."""
    return warehouse.read_rows(build, "plan_states", results.PlanState)


def power(build: rows.Build) -> tuple[results.PlanPower, ...]:
    """How soon the alarm of a plan calls a stall, by weigh-ins a week, gap and week."""
    return warehouse.read_rows(build, "plan_power", results.PlanPower)


def stages(build: rows.Build) -> dict[str, str]:
    """The growth stage of every young athlete, by athlete."""
    return {
        one.athlete_id: one.stage for one in warehouse.read_rows(build, "growth_stages", results.GrowthStage)
    }


def versions(build: rows.Build, plan_id: str) -> tuple[rows.Plan, ...]:
    """Every version of one plan."""
    return warehouse.read_rows(build, "plan_versions", rows.Plan, plan_id=plan_id)


def settings() -> PlanSettings:
    """What the program allows."""
    program = load_program(data_dir())
    return PlanSettings(
        ceiling_percent=program.ceiling_percent,
        plan_percent=program.plan_percent,
        refer_percent=program.refer_percent,
    )
