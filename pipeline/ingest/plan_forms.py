"""Weight plans made, changed and ended on a screen: checked against age, growth and ceiling, then written down."""

from __future__ import annotations

import hashlib
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

from pipeline import durable
from pipeline.errors import DecisionError
from pipeline.ingest.planlog import VERSION, PlanEvent, read_log, write_event
from pipeline.ingest.program import load_program
from pipeline.stats.plan_allowed import ADULT, PHYSICIAN_UNTIL, Permission, permission
from pipeline.stats.plan_rules import PlanSettings
from pipeline.warehouse.connection import open_published, read_sql

NEW: Final = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanDraft:
    """A plan as it stands in the form; masses in kg. `plan_id` is '' for a new one."""

    plan_id: str
    athlete_id: str
    start_on: date
    start_kg: float
    target_on: date
    target_kg: float
    purpose: str
    approved_by: str
    reason: str
    ended_on: date | None = None
    seen_version: int | None = None  # the version that was on the screen; None where nobody looked at one


def save_plan(root: Path, draft: PlanDraft, by: str) -> PlanEvent:
    """Write a plan, or a new version of one, into the plan log.

    Raises DecisionError where the plan may not be made, a needed reason or approval is missing, nobody is named, or
    somebody else has saved a version since the one that was on the screen.
    """
    with durable.locked(root / ".plan_version.lock"):
        return _save(root, draft, by)


def _save(root: Path, draft: PlanDraft, by: str) -> PlanEvent:
    born, stage, highest = _known(root, draft)
    age = None if born is None else whole_years_between(born, load_program(root).today())
    if draft.ended_on is None:
        _check(draft, permission_for(root, draft, age, stage), age)
    saved = [one for one in read_log(root) if one.kind == VERSION and one.plan_id == draft.plan_id]
    _check_seen(draft, saved)
    version = 1 + max([highest, *(int(one.facts["version"]) for one in saved)])
    facts: dict[str, Any] = {
        "plan_id": draft.plan_id or _new_id(root, draft),
        "version": version,
        "athlete": draft.athlete_id,
        "start_on": draft.start_on.isoformat(),
        "start_mass": repr(draft.start_kg),
        "target_on": draft.target_on.isoformat(),
        "target_mass": repr(draft.target_kg),
        "unit": "kg",
        "ended_on": draft.ended_on.isoformat() if draft.ended_on else "",
        "purpose": draft.purpose.strip(),
        "made_by": by.strip(),
        "approved_by": draft.approved_by.strip(),
        "reason": draft.reason.strip(),
    }
    return write_event(
        root, kind=VERSION, plan_id=facts["plan_id"], athlete_id=draft.athlete_id, by=by, facts=facts,
        note=draft.reason.strip(),
    )  # fmt: skip


def permission_for(root: Path, draft: PlanDraft, age: float | None, stage: str) -> Permission:
    """Return whether a drafted plan may be made under the settings of the program."""
    program = load_program(root)
    settings = PlanSettings(ceiling_percent=program.ceiling_percent, refer_percent=program.refer_percent)
    weeks = (draft.target_on - draft.start_on).days / 7.0
    return permission(
        start_kg=draft.start_kg,
        target_kg=draft.target_kg,
        weeks=weeks,
        age=age,
        stage=stage,
        settings=settings,
    )


def whole_years_between(born: date, on: date) -> float:
    """Completed years of age on a day."""
    return float(on.year - born.year - ((on.month, on.day) < (born.month, born.day)))


def approvals_needed(age: float | None) -> str:
    """Who has to approve a plan of an athlete of this age, '' where nobody has to."""
    if age is not None and age >= ADULT:
        return ""
    young = age is None or age < PHYSICIAN_UNTIL
    return "guardian, and a physician or dietitian" if young else "guardian"


def _check(draft: PlanDraft, found: Permission, age: float | None) -> None:
    if found.refused:
        raise DecisionError(f"this plan cannot be saved: {found.refused}")
    if found.reason_for and not draft.reason.strip():
        raise DecisionError(f"this plan needs a written reason: {found.reason_for}")
    needed = approvals_needed(age)
    if needed and not draft.approved_by.strip():
        raise DecisionError(f"this plan needs approval by the {needed}; write who gave it")


def _known(root: Path, draft: PlanDraft) -> tuple[date | None, str, int]:
    """The athlete's birth date and growth stage, and the highest published version of the plan."""
    with closing(open_published(root)) as connection:
        found = connection.execute(
            read_sql("read/plan_draft.sql"), {"athlete_id": draft.athlete_id, "plan_id": draft.plan_id}
        ).fetchone()
    if found is None:
        raise DecisionError(f"athlete {draft.athlete_id!r} is not on any roster; import the roster first")
    return found[0], str(found[1]), int(found[2])


def _check_seen(draft: PlanDraft, saved: list[PlanEvent]) -> None:
    """Refuse a change that was made without knowing the latest version."""
    if not draft.plan_id or draft.seen_version is None:
        return
    newer = [one for one in saved if int(one.facts["version"]) > draft.seen_version]
    if newer:
        raise DecisionError(
            f"plan {draft.plan_id} was changed meanwhile: version {newer[-1].facts['version']} by {newer[-1].by} on "
            f"{newer[-1].on.isoformat()}. Build, look at it, and then change it; nothing was written"
        )


def _new_id(root: Path, draft: PlanDraft) -> str:
    body = f"{len(read_log(root))}\n{draft.athlete_id}\n{draft.start_on}\n{draft.target_kg}"
    return f"S-{hashlib.sha256(body.encode()).hexdigest()[:6]}"
