"""The plan log: decisions about weight plans, and plans made or changed on a screen; one line each, only added to."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

from latewood.pipeline import durable
from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.logs.audited import append_audited
from latewood.pipeline.ingest.logs.joins import Joins, joins_of
from latewood.pipeline.ingest.logs.lines import read_typed, rewrite, whole_bytes
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.stats.plans.ages import ADULT
from latewood.pipeline.warehouse.connection import open_published, read_sql

LOG: Final = "plan_log.jsonl"
DECIDED, VERSION, HIDE, SHOW = "decided", "version", "hide mass", "show mass"
REFUSED: Final = "refused"  # never written: a decision on the log that may not be taken
KINDS: Final = (DECIDED, VERSION, HIDE, SHOW)

KEEP, RAISE, LOWER = "keep", "raise intake", "lower intake"
SLOW: Final = "slow the gain, with the dietitian"
CHANGE, PAUSE, REFER = "change target", "pause", "refer"
DECISIONS: Final = (KEEP, RAISE, LOWER, SLOW, CHANGE, PAUSE, REFER)
FOR_ADULTS: Final = frozenset({LOWER})  # nobody under 18 is told to eat less
Births = Mapping[str, date | None]
NOTE_LENGTH: Final = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanEvent:
    """One line of the log: who did what about which plan, and what the board said at that moment.

    `facts` depends on the kind: of a decision the review date and what was seen; of a version the columns of a
    plans file. Nothing in it is medical: a referral says that one was made, not why.
    """

    event_id: str
    at: str
    by: str
    kind: str
    plan_id: str
    athlete_id: str
    decision: str = ""
    note: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def on(self) -> date:
        """The day on which it was written down, at the program's place."""
        return datetime.fromisoformat(self.at).date()

    @property
    def review_on(self) -> date | None:
        """When the decision is to be looked at again."""
        text = self.facts.get("review_on")
        return date.fromisoformat(str(text)) if text else None


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPlanDecision:
    """What is decided about a plan, why, until when, and what the board showed of it."""

    plan_id: str
    athlete_id: str
    decision: str
    review_on: date
    note: str
    seen: Mapping[str, Any]
    attendance_poor: bool = False


def read_log(root: Path) -> tuple[PlanEvent, ...]:
    """All events in the order in which they were written. Raises LandingError."""
    return parse_log(whole_bytes(root / LOG))


def current_log(root: Path) -> tuple[PlanEvent, ...]:
    """All events, under the id as which each athlete is read now. Raises LandingError."""
    return under_one_id(read_log(root), joins_of(root))


def under_one_id(events: Sequence[PlanEvent], joins: Joins) -> tuple[PlanEvent, ...]:
    """The events under the ids as which athletes are read.

    Whoever had their mass hidden under one id has it hidden, whatever was shown under another before they were joined.
    """
    joined: dict[str, datetime] = {}
    for one in joins.of.values():
        head = joins.head(one.joined_id)
        joined[head] = max(one.at, joined.get(head, one.at))
    masses = [one for one in events if one.kind in {HIDE, SHOW}]
    before = [one for one in masses if _is_before(one, joined.get(joins.head(one.athlete_id)))]
    last = {one.athlete_id: one.kind for one in before}
    hidden = {joins.head(athlete) for athlete, kind in last.items() if kind == HIDE}
    left_out = {one.event_id for one in before if one.kind == SHOW and joins.head(one.athlete_id) in hidden}
    return tuple(
        replace(one, athlete_id=joins.head(one.athlete_id)) for one in events if one.event_id not in left_out
    )


def _is_before(event: PlanEvent, joined_at: datetime | None) -> bool:
    return joined_at is not None and datetime.fromisoformat(event.at) < joined_at


def read_allowed(root: Path) -> tuple[PlanEvent, ...]:
    """All events, those decisions marked as refused that may not be taken at the athlete's age. Raises LandingError."""
    events = current_log(root)
    if not any(one.decision in FOR_ADULTS for one in events):
        return events
    with closing(open_published(root)) as connection:
        births = dict(connection.execute(read_sql("read/birth_dates.sql")).fetchall())
    return without_refused(events, births)


def parse_log(content: bytes) -> tuple[PlanEvent, ...]:
    """The events of a log's bytes; raises LandingError naming a line that cannot be read."""
    return tuple(event for _, event in numbered(content))


def numbered(content: bytes) -> list[tuple[int, PlanEvent]]:
    """The events of a log's bytes with their lines; raises LandingError naming a line that cannot be read."""
    return read_typed(content, LOG, PlanEvent, lambda one: (one.on, one.review_on))


def decisions_for(age: float | None) -> tuple[str, ...]:
    """The decisions that may be taken about an athlete of this age in years; one not known counts as a minor's.

    >>> LOWER in decisions_for(17.9), LOWER in decisions_for(18.0), LOWER in decisions_for(None)
    (False, True, False)
    """
    minor = age is None or age < ADULT
    return tuple(one for one in DECISIONS if not (minor and one in FOR_ADULTS))


def without_refused(events: Sequence[PlanEvent], births: Births) -> tuple[PlanEvent, ...]:
    """The events with those decisions marked as refused that may not be taken at the athlete's age on their day.

    A log can hold one: written by an earlier version, or not by this tool.
    """
    return tuple(replace(one, kind=REFUSED) if _is_refused(one, births) else one for one in events)


def _is_refused(event: PlanEvent, births: Births) -> bool:
    return (
        event.kind == DECIDED
        and event.decision in FOR_ADULTS
        and event.decision not in decisions_for(age_on(births.get(event.athlete_id), event.on))
    )


def age_on(born: date | None, on: date) -> float | None:
    """Completed years of age on a day, None without a birth date."""
    return None if born is None else completed_years(born, on)


def completed_years(born: date, on: date) -> float:
    """Completed years of age on a day."""
    return float(on.year - born.year - ((on.month, on.day) < (born.month, born.day)))


def record_decision(root: Path, made: NewPlanDecision, by: str) -> PlanEvent:
    """Write one decision about a plan down. Raises DecisionError where something is missing or not allowed."""
    decision, athlete_id = made.decision, made.athlete_id
    if decision not in DECISIONS:
        raise DecisionError(f"decision {decision!r} is not one of {', '.join(DECISIONS)}")
    if not made.note.strip():
        raise DecisionError("a decision about a plan needs a reason; write one sentence")
    today = load_program(root).today()
    if decision in FOR_ADULTS and decision not in decisions_for(age_on(_born(root, athlete_id), today)):
        raise DecisionError(f"nobody under 18 is told to eat less: {decision!r} is not kept; decide {SLOW!r}")
    if not today < made.review_on:
        raise DecisionError(f"review date {made.review_on} is not after today; pick a later day")
    facts = {
        "review_on": made.review_on.isoformat(),
        "seen": dict(made.seen),
        "attendance_poor": made.attendance_poor,
    }
    event = PlanEvent(
        event_id="", at="", by=by, kind=DECIDED, plan_id=made.plan_id, athlete_id=athlete_id, decision=decision,
        note=made.note, facts=facts,
    )  # fmt: skip
    return write_event(root, event)


def _born(root: Path, athlete_id: str) -> date | None:
    with closing(open_published(root)) as connection:
        result = connection.execute(read_sql("read/born.sql"), {"athlete_id": athlete_id}).fetchone()
    return result[0] if result else None


def hide_mass(root: Path, athlete_id: str, by: str, *, hidden: bool) -> PlanEvent:
    """Write down that an athlete wants their mass hidden on screens, or shown again. Raises DecisionError."""
    kind = HIDE if hidden else SHOW
    return write_event(
        root, PlanEvent(event_id="", at="", by=by, kind=kind, plan_id="", athlete_id=athlete_id)
    )


def write_event(root: Path, given: PlanEvent) -> PlanEvent:
    """Add one event to the log of a data folder, with its id and time. Raises DecisionError where nobody is named."""
    by, note = given.by, given.note
    if not by.strip():
        raise DecisionError("who decides is not named; write your name")
    if len(note) > NOTE_LENGTH:
        raise DecisionError(f"the note has {len(note)} characters; up to {NOTE_LENGTH} are kept")
    at = load_program(root).now().isoformat()
    with durable.locked(root / ".plan_log.lock"):
        _note_late(root)
        position = whole_bytes(root / LOG).count(b"\n")
        what = [given.kind, given.plan_id, given.athlete_id, given.decision, note]
        body = json.dumps([position, at, by, *what], ensure_ascii=False)
        event = replace(
            given,
            event_id=hashlib.sha256(body.encode()).hexdigest()[:12],
            at=at,
            by=by.strip(),
            note=note.strip(),
        )
        append_audited(root, root / LOG, asdict(event), by, _sentence(root, event))
    return event


def _sentence(root: Path, event: PlanEvent) -> dict[str, str | int | bool]:
    return {
        "plan": event.plan_id, "kind": event.decision or event.kind, "event": event.event_id,
        "subject": audit.subject(root, event.athlete_id),
    }  # fmt: skip


def _note_late(root: Path) -> None:
    """Log the last event now where a crash came between writing it down and logging it."""
    last = next(reversed(read_log(root)), None)
    if last is None or any(_differs_of(line, last) for line in audit.lines(root)):
        return
    audit.append(root, "decision", last.by, {**_sentence(root, last), "late": True})


def _differs_of(line: audit.AuditLine, event: PlanEvent) -> bool:
    """Whether a line of the audit log is that of an event; lines of earlier versions hold no id of one."""
    reported = line.details
    if "event" in reported:
        return reported["event"] == event.event_id
    return reported.get("plan") == event.plan_id and reported.get("kind") == (event.decision or event.kind)


def forget(root: Path, athlete_id: str, names: Callable[[str], bool]) -> int:
    """Empty the lines about an athlete, and notes of other lines that name them; return 1 where the log changed."""

    def change(record: dict[str, Any]) -> dict[str, Any] | None:
        if record["athlete_id"] == athlete_id:
            return None
        return {**record, "note": "erased"} if names(str(record["note"])) else record

    with durable.locked(root / ".plan_log.lock"):
        return int(bool(rewrite(root / LOG, change)))


def decisions_of(events: Sequence[PlanEvent]) -> dict[str, list[PlanEvent]]:
    """The decisions of each plan, the oldest first."""
    result: dict[str, list[PlanEvent]] = {}
    for event in events:
        if event.kind == DECIDED:
            result.setdefault(event.plan_id, []).append(event)
    return result


def hidden_masses(events: Sequence[PlanEvent]) -> frozenset[str]:
    """The athletes whose last word is that their mass is hidden."""
    last = {event.athlete_id: event.kind for event in events if event.kind in {HIDE, SHOW}}
    return frozenset(athlete for athlete, kind in last.items() if kind == HIDE)
