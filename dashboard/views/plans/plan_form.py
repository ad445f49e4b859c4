"""What a plan in the form needs and how likely it is, worked out as it is typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from latewood.dashboard.text.wording import (
    Scale,
    chance_text,
    full_day,
    plain_number,
    signed_number,
    with_unit,
)
from latewood.pipeline.ingest.plans.plan_forms import PlanDraft, approvals_needed
from latewood.pipeline.stats.plans.allowed import Permission, PlannedGain, permission
from latewood.pipeline.stats.plans.plan_start import asks_back
from latewood.pipeline.stats.plans.results import PlanState
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.stats.plans.whatif import what_if

NO_CHANCE = "No chance yet: three weigh-ins over a week are needed for a rate."


@dataclass(frozen=True, slots=True, kw_only=True)
class Feasible:
    """One draft: the rate it plans, whether it may be made, how likely it is on today's trend."""

    permission: Permission
    rate: float  # kg a week
    chance: float | None
    at_ceiling_kg: float
    approvals: tuple[str, ...]  # each approves in a field of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class Maturity:
    """How far an athlete has grown: the age in years, and the growth stage in words, '' where it is not known."""

    age: float | None
    stage: str


def feasibility(
    state: PlanState, draft: PlanDraft, maturity: Maturity, settings: PlanSettings, trend_kg: float | None
) -> Feasible:
    """What a draft needs, reckoned from the trend of the weigh-ins; without one from its own start."""
    weeks = (draft.target_on - draft.start_on).days / 7.0
    begins = draft.start_kg if trend_kg is None else trend_kg
    ahead = what_if(state, draft.target_kg, draft.target_on) if draft.target_on > state.as_of else None
    return Feasible(
        permission=permission(
            PlannedGain(start_kg=draft.start_kg, target_kg=draft.target_kg, weeks=weeks, trend_kg=trend_kg),
            age=maturity.age,
            stage=maturity.stage,
            settings=settings,
        ),
        rate=(draft.target_kg - begins) / weeks if weeks > 0 else 0.0,
        chance=None if ahead is None else ahead.chance,
        at_ceiling_kg=begins * (1.0 + settings.ceiling_percent / 100.0 * max(weeks, 0.0)),
        approvals=approvals_needed(maturity.age),
    )


def feasible_text(found: Feasible, scale: Scale) -> str:
    """Needed rate, its share, the chance, and what the ceiling allows."""
    rate = with_unit(signed_number(scale.of(found.rate), 2), f"{scale.unit}/wk")
    chance = (
        f" {NO_CHANCE}" if found.chance is None else f" Chance on today's trend: {chance_text(found.chance)}."
    )
    needed = f" Needs a written reason: {found.permission.reason_for}." if found.permission.reason_for else ""
    return (
        f"Plans {rate}, {plain_number(found.permission.percent, 2)} % of body mass a week (usual 0.25, ceiling "
        f"{found.permission.ceiling_percent:g}).{chance} At the ceiling: {scale.text(found.at_ceiling_kg)} by then."
        f"{needed}"
    )


def start_question(start_kg: float, trend_kg: float | None, scale: Scale) -> str:
    """What is asked where the typed start is far from the trend of the weigh-ins; '' where it is near.

    >>> lb = Scale(unit="lb", factor=2.2046, decimals=1)
    >>> start_question(82.0, 78.0, lb).replace(chr(160), " ")
    'The start is 8.8 lb above the trend of the weigh-ins (172.0 lb). Which one holds?'
    """
    if trend_kg is None or not asks_back(start_kg, trend_kg):
        return ""
    where = "above" if start_kg > trend_kg else "below"
    away = scale.text(abs(start_kg - trend_kg))
    return (
        f"The start is {away} {where} the trend of the weigh-ins ({scale.text(trend_kg)}). Which one holds?"
    )


def next_version_question(plan_id: str, target_on: date) -> str:
    """What is asked where the athlete has a plan already."""
    return f"Plan {plan_id} runs until {full_day(target_on)}. Is this its next version?"
