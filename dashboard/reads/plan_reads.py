"""Reads of the published warehouse for the plan screens, and what measuring again would tell."""

from __future__ import annotations

from dataclasses import replace

from latewood.dashboard.actions import plan_actions
from latewood.dashboard.reads import rows, warehouse
from latewood.dashboard.reads.read import Read
from latewood.dashboard.views.plans.plan_case import PlanRecord
from latewood.pipeline.ingest.logs.planlog import hidden_masses
from latewood.pipeline.ingest.program import data_dir, load_program
from latewood.pipeline.stats import results
from latewood.pipeline.stats.plans.rules import PlanSettings

GUARD_ORDER = "plan_id, list_position(['strength', 'strength per kg', 'split', 'output'], role), measure"

advice = Read(row=results.PlanAdvice, kind="plan", provisional=True)
since = Read(row=results.PlanSince, kind="plan")
states = Read(row=results.PlanState, kind="plan", provisional=True)
power = Read(row=results.PlanPower, kind="plan", order="per_week, plan_weeks, gap_rate, week")
versions = Read(row=rows.Plan, kind="plan", by=("plan_id",), order="version")
growth_stages = Read(row=results.GrowthStage, kind="plan")
# the tests beside every plan, and what more test days would do to them and to an athlete's verdicts
guards = Read(row=results.PlanGuard, kind="plan", order=GUARD_ORDER)
guard_retests = Read(row=results.GuardRetest, kind="plan", order="plan_id, measure, line, extra")
retests = Read(
    row=results.RetestAdvice, kind="athlete", by=("athlete_id",), order="stay_id, measure, line, extra"
)


def record(build: rows.Build) -> PlanRecord:
    """Everything that the board of weight plans is made from, with the plan log as it is now."""
    return replace(words(build), mass=warehouse.plan_mass(build), weighins=warehouse.plan_weighins(build))


def words(build: rows.Build) -> PlanRecord:
    """What the status of plans is worded from: no mass and no weigh-in of anybody."""
    events = plan_actions.plan_log(build)
    return PlanRecord(
        reviews=warehouse.plan_reviews(build),
        plans=warehouse.plans(build),
        mass=(),
        weighins=(),
        advice=advice(build),
        since=since(build),
        events=events,
        hidden=hidden_masses(events),
    )


def stages(build: rows.Build) -> dict[str, str]:
    """The growth stage of every young athlete, by athlete."""
    return {one.athlete_id: one.stage for one in growth_stages(build)}


def settings() -> PlanSettings:
    """What the program allows."""
    program = load_program(data_dir())
    return PlanSettings(
        ceiling_percent=program.ceiling_percent,
        plan_percent=program.plan_percent,
        refer_percent=program.refer_percent,
    )
