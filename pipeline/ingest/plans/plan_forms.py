"""Weight plans made, changed and ended on a screen: checked against age, growth and ceiling, then written down."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from latewood.pipeline import durable
from latewood.pipeline.catalogue.units import convert
from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.logs.planlog import VERSION, PlanEvent, age_on, current_log, write_event
from latewood.pipeline.ingest.people.records import is_name
from latewood.pipeline.ingest.program import Program, load_program
from latewood.pipeline.stats.plans.ages import ADULT
from latewood.pipeline.stats.plans.allowed import PHYSICIAN_UNTIL, Permission, PlannedGain, permission
from latewood.pipeline.stats.plans.plan_start import ASK_BEYOND_KG, NEAR_DAYS, asks_back
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.warehouse.connection import open_published, read_sql

GUARDIAN, CLINICIAN = "guardian", "physician or dietitian"


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
    reason: str
    guardian: str = ""  # who approved, by name
    clinician: str = ""  # the physician or dietitian who approved, by name
    start_answer: str = ""  # why a start far from the trend of the weigh-ins is right all the same
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
    known = _known(root, draft)
    log = current_log(root)
    if draft.ended_on is None:
        _check(draft, known, load_program(root))
        _check_alone(draft, _running(root, draft.athlete_id, draft.start_on, log))
    saved = [one for one in log if one.kind == VERSION and one.plan_id == draft.plan_id]
    _check_unchanged_since(draft, saved)
    version = 1 + max([known.version, *(int(one.facts["version"]) for one in saved)])
    facts = _facts(draft, draft.plan_id or _new_id(draft, len(log)), version, by)
    event = PlanEvent(
        event_id="", at="", by=by, kind=VERSION, plan_id=facts["plan_id"], athlete_id=draft.athlete_id,
        note=draft.reason.strip(), facts=facts,
    )  # fmt: skip
    return write_event(root, event)


def _facts(draft: PlanDraft, plan_id: str, version: int, by: str) -> dict[str, Any]:
    """The draft in the columns of a plans file."""
    return {
        "plan_id": plan_id,
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
        "approved_by": approved_text(draft),
        "reason": draft.reason.strip(),
        "start_answer": draft.start_answer.strip(),
    }


def approved_text(draft: PlanDraft) -> str:
    """Who approved, each with what they approved as.

    >>> day = date(2033, 7, 1)
    >>> draft = PlanDraft(plan_id="", athlete_id="T1", start_on=day, start_kg=70.0, target_on=day, target_kg=71.0,
    ...                   purpose="", reason="", guardian="Ilse Fenwood", clinician="Bo Marl")
    >>> approved_text(draft)
    'guardian Ilse Fenwood, physician or dietitian Bo Marl'
    """
    given = ((GUARDIAN, draft.guardian.strip()), (CLINICIAN, draft.clinician.strip()))
    return ", ".join(f"{role} {name}" for role, name in given if name)


def permission_for(program: Program, draft: PlanDraft, known: AthleteOnRecord) -> Permission:
    """Return whether a drafted plan may be made under the settings of the program."""
    settings = PlanSettings(ceiling_percent=program.ceiling_percent, refer_percent=program.refer_percent)
    return permission(
        PlannedGain(
            start_kg=draft.start_kg,
            target_kg=draft.target_kg,
            weeks=(draft.target_on - draft.start_on).days / 7.0,
            trend_kg=known.trend_kg,
        ),
        age=known.age(program.today()),
        stage=known.stage,
        settings=settings,
    )


def trend_on(root: Path, athlete_id: str, start_on: date) -> float | None:
    """The trend of an athlete's weigh-ins on a start day, kg; None where nobody weighed near it."""
    return _look_up(root, athlete_id, "", start_on).trend_kg


def running_plan(root: Path, athlete_id: str, start_on: date) -> Running | None:
    """The plan that runs for an athlete on a day, as published and as written down since; None where none does."""
    running = _running(root, athlete_id, start_on, current_log(root))
    return next((one for one in running if one.start_on <= start_on <= one.target_on), None)


def running_plans(root: Path, athlete_id: str, on: date) -> tuple[Running, ...]:
    """The plans of an athlete that were not ended and whose stay is not over on a day, built or not."""
    return _running(root, athlete_id, on, current_log(root))


def approvals_needed(age: float | None) -> tuple[str, ...]:
    """Who has to approve a plan of an athlete of this age: each is a field of its own.

    >>> approvals_needed(15.0), approvals_needed(17.0), approvals_needed(18.0)
    (('guardian', 'physician or dietitian'), ('guardian',), ())
    """
    if age is not None and age >= ADULT:
        return ()
    return (GUARDIAN, CLINICIAN) if age is None or age < PHYSICIAN_UNTIL else (GUARDIAN,)


def both_units(kg: float) -> str:
    """A mass in both units, where it is not known which are shown.

    >>> both_units(78.0)
    '78.0 kg, 172.0 lb'
    """
    return f"{kg:.1f} kg, {convert(kg, 'kg', 'lb'):.1f} lb"


def _check(draft: PlanDraft, known: AthleteOnRecord, program: Program) -> None:
    if (
        known.trend_kg is not None
        and asks_back(draft.start_kg, known.trend_kg)
        and not draft.start_answer.strip()
    ):
        raise DecisionError(
            f"the start mass ({both_units(draft.start_kg)}) is more than {both_units(ASK_BEYOND_KG)} from the trend of "
            f"the weigh-ins ({both_units(known.trend_kg)}); start from the trend, or say why the other is right"
        )
    result = permission_for(program, draft, known)
    if result.refused:
        raise DecisionError(f"this plan cannot be saved: {result.refused}")
    if result.reason_for and not draft.reason.strip():
        raise DecisionError(f"this plan needs a written reason: {result.reason_for}")
    for role in approvals_needed(known.age(program.today())):
        given = (draft.guardian if role == GUARDIAN else draft.clinician).strip()
        if not given:
            raise DecisionError(f"this plan needs approval by the {role}; write who gave it")
        if not is_name(given):
            raise DecisionError(f"approval by the {role}: {given!r} is no name; write the whole name")


def _check_alone(draft: PlanDraft, running: Sequence[Running]) -> None:
    """Refuse a second plan beside one that runs."""
    beside = [
        one for one in running
        if one.plan_id != draft.plan_id and one.start_on <= draft.target_on and draft.start_on <= one.target_on
    ]  # fmt: skip
    if beside:
        raise DecisionError(
            f"athlete {draft.athlete_id} has plan {beside[0].plan_id} until {beside[0].target_on.isoformat()}; is this "
            "its next version? Save it as that, or end the other first"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class AthleteOnRecord:
    """What is on record of a drafted plan's athlete."""

    born: date | None
    stage: str
    version: int  # the plan's highest published version, 0 for a new plan
    trend_kg: float | None  # of the weigh-ins on the start day

    def age(self, on: date) -> float | None:
        """Completed years on a day, None without a birth date."""
        return age_on(self.born, on)


def _known(root: Path, draft: PlanDraft) -> AthleteOnRecord:
    return _look_up(root, draft.athlete_id, draft.plan_id, draft.start_on)


def _look_up(root: Path, athlete_id: str, plan_id: str, start_on: date) -> AthleteOnRecord:
    requested = {"athlete_id": athlete_id, "plan_id": plan_id, "start_on": start_on, "near_days": NEAR_DAYS}
    with closing(open_published(root)) as connection:
        result = connection.execute(read_sql("read/plan_draft.sql"), requested).fetchone()
    if result is None:
        raise DecisionError(f"athlete {athlete_id!r} is not on any roster; import the roster first")
    return AthleteOnRecord(born=result[0], stage=str(result[1]), version=int(result[2]), trend_kg=result[3])


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """The version in force of a plan that was not ended."""

    plan_id: str
    version: int
    start_on: date
    target_on: date


def _running(root: Path, athlete_id: str, start_on: date, log: Sequence[PlanEvent]) -> tuple[Running, ...]:
    """The plans of an athlete that run on, as published and as written down since."""
    with closing(open_published(root)) as connection:
        rows = connection.execute(
            read_sql("read/running_plans.sql"), {"athlete_id": athlete_id, "start_on": start_on}
        ).fetchall()
    result = {
        str(plan): None
        if over
        else Running(plan_id=str(plan), version=int(version), start_on=start, target_on=target)
        for plan, version, start, target, over in rows
    }
    for event in log:
        # A published plan that is over was looked at with its stay, which the log does not know.
        if (
            event.kind == VERSION
            and event.athlete_id == athlete_id
            and result.get(event.plan_id, ...) is not None
        ):
            result[event.plan_id] = _written(event)
    return tuple(one for one in result.values() if one is not None)


def _written(event: PlanEvent) -> Running | None:
    if event.facts.get("ended_on"):
        return None
    return Running(
        plan_id=event.plan_id,
        version=int(event.facts["version"]),
        start_on=date.fromisoformat(str(event.facts["start_on"])),
        target_on=date.fromisoformat(str(event.facts["target_on"])),
    )


def _check_unchanged_since(draft: PlanDraft, saved: list[PlanEvent]) -> None:
    """Refuse a change that was made without knowing the latest version."""
    if not draft.plan_id or draft.seen_version is None:
        return
    newer = [one for one in saved if int(one.facts["version"]) > draft.seen_version]
    if newer:
        raise DecisionError(
            f"plan {draft.plan_id} was changed meanwhile: version {newer[-1].facts['version']} by {newer[-1].by} on "
            f"{newer[-1].on.isoformat()}. Build, look at it, and then change it; nothing was written"
        )


def _new_id(draft: PlanDraft, position: int) -> str:
    body = f"{position}\n{draft.athlete_id}\n{draft.start_on}\n{draft.target_kg}"
    return f"S-{hashlib.sha256(body.encode()).hexdigest()[:6]}"
