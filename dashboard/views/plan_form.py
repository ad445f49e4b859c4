"""What a plan in the form needs and how likely it is, worked out as it is typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from dashboard.wording import Scale, chance_text, plain_number, signed_number, with_unit
from pipeline.ingest.plan_forms import approvals_needed
from pipeline.stats.plan_allowed import Permission, permission
from pipeline.stats.plan_rules import PlanSettings
from pipeline.stats.plan_whatif import what_if
from pipeline.stats.results import PlanState


@dataclass(frozen=True, slots=True, kw_only=True)
class Feasible:
    """One draft: the rate it plans, whether it may be made, how likely it is on today's trend."""

    permission: Permission
    rate: float  # kg a week
    chance: float | None
    at_ceiling_kg: float
    approvals: str


def feasibility(
    state: PlanState,
    start_kg: float,
    target_kg: float,
    today: date,
    target_on: date,
    *,
    age: float | None,
    stage: str,
    settings: PlanSettings,
) -> Feasible:
    """What a plan from today's start mass to a target by a date would need."""
    weeks = (target_on - today).days / 7.0
    ahead = what_if(state, target_kg, target_on) if target_on > state.as_of else None
    return Feasible(
        permission=permission(
            start_kg=start_kg, target_kg=target_kg, weeks=weeks, age=age, stage=stage, settings=settings
        ),
        rate=(target_kg - start_kg) / weeks if weeks > 0 else 0.0,
        chance=None if ahead is None else ahead.chance,
        at_ceiling_kg=start_kg * (1.0 + settings.ceiling_percent / 100.0 * max(weeks, 0.0)),
        approvals=approvals_needed(age),
    )


def feasible_text(found: Feasible, scale: Scale) -> str:
    """Needed rate, its share, the chance, and what the ceiling allows."""
    rate = with_unit(signed_number(scale.of(found.rate), 2), f"{scale.unit}/wk")
    chance = "" if found.chance is None else f" Chance on today's trend: {chance_text(found.chance)}."
    needed = f" Needs a written reason: {found.permission.reason_for}." if found.permission.reason_for else ""
    return (
        f"Plans {rate}, {plain_number(found.permission.percent, 2)} % of body mass a week (usual 0.25, ceiling "
        f"{found.permission.ceiling_percent:g}).{chance} At the ceiling: {scale.text(found.at_ceiling_kg)} by then."
        f"{needed}"
    )
