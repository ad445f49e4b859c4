"""The focus log: what a coach and an athlete work on next, and the measure that will show it; only added to.

The day a focus is written is the day of a review: what changed since then is told from it. The text goes to the
family, so it says nothing medical.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Final

from latewood.pipeline import durable
from latewood.pipeline.catalogue.model import Better, Measure
from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.consent.health import word_of_health
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.logs.audited import append_audited, note_late
from latewood.pipeline.ingest.logs.joins import joins_of
from latewood.pipeline.ingest.logs.lines import forget_texts, read_typed, whole_bytes
from latewood.pipeline.ingest.program import load_program, program_catalogue

LOG: Final = "focus_log.jsonl"
LOCK: Final = ".focus_log.lock"
TEXT_LENGTH: Final = 300
BODY: Final = "build"  # the family of measures of the body: none is a focus, none has a target


@dataclass(frozen=True, slots=True, kw_only=True)
class Focus:
    """One line of the log: the text, the key of the measure that will show it, and when it is looked at again."""

    focus_id: str
    at: str
    by: str
    athlete_id: str
    text: str
    measure: str
    review_on: str
    target: str = ""  # a number in the measure's unit to be reached by then, where one was set

    @property
    def on(self) -> date:
        """The day of the review at which it was written, at the program's place."""
        return datetime.fromisoformat(self.at).date()

    @property
    def until(self) -> date:
        """When it is to be looked at again."""
        return date.fromisoformat(self.review_on)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewFocus:
    """A focus as it is handed in, before it has an id, a time and a name under it."""

    athlete_id: str
    text: str
    measure: str
    review_on: date
    target: float | None = None  # in the measure's unit


def read_log(root: Path) -> tuple[Focus, ...]:
    """Every focus in the order in which they were written. Raises LandingError naming a line it cannot read."""
    return tuple(
        one
        for _, one in read_typed(
            whole_bytes(root / LOG), LOG, Focus, lambda one: (one.on, one.until, float(one.target or 0))
        )
    )


def of_athlete(root: Path, athlete_id: str) -> tuple[Focus, ...]:
    """One athlete's, the oldest first, also those written under an id that was joined into theirs."""
    joins = joins_of(root)
    return tuple(
        replace(one, athlete_id=athlete_id)
        for one in read_log(root)
        if joins.head(one.athlete_id) == joins.head(athlete_id)
    )


def with_target(root: Path) -> tuple[Focus, ...]:
    """Every focus that has a target, the oldest first, under the id that each athlete has now."""
    joins = joins_of(root)
    return tuple(replace(one, athlete_id=joins.head(one.athlete_id)) for one in read_log(root) if one.target)


def write(root: Path, draft: NewFocus, by: str) -> Focus:
    """Write a focus down. Raises DecisionError where something is missing or the measure is not in the catalogue."""
    plain, measure = " ".join(draft.text.split()), draft.measure
    if not by.strip():
        raise DecisionError("who writes the focus is not named; write your name")
    if not plain:
        raise DecisionError("the focus is empty; write one or two sentences")
    if len(plain) > TEXT_LENGTH:
        raise DecisionError(f"the focus has {len(plain)} characters; up to {TEXT_LENGTH} are kept")
    if health := word_of_health(plain):
        raise DecisionError(
            f"the focus speaks of health ({health!r}), and it goes to the family; leave that out"
        )
    known = program_catalogue(root).measures.get(measure)
    if known is None:
        raise DecisionError(f"measure {measure!r} is not in the catalogue; see `latewood measures`")
    if known.family == BODY:
        raise DecisionError(f"{measure} is about the body; what is about the body is no focus: pick a test")
    _check_target(draft.target, known)
    program = load_program(root)
    if draft.review_on <= program.today():
        raise DecisionError(f"the day to look again, {draft.review_on}, is not after today; pick a later day")
    at = program.now().isoformat()
    with durable.locked(root / LOCK):
        last = next(reversed(read_log(root)), None)
        if last is not None:
            note_late(root, "focus", last.by, _sentence(root, last))
        position = whole_bytes(root / LOG).count(b"\n")
        body = json.dumps([position, at, by, draft.athlete_id, plain, measure], ensure_ascii=False)
        made = Focus(
            focus_id=hashlib.sha256(body.encode()).hexdigest()[:12],
            at=at,
            by=by.strip(),
            athlete_id=draft.athlete_id,
            text=plain,
            measure=measure,
            review_on=draft.review_on.isoformat(),
            target="" if draft.target is None else repr(draft.target),
        )
        append_audited(root, root / LOG, asdict(made), by, _sentence(root, made))
    return made


def _check_target(target: float | None, measure: Measure) -> None:
    """Raise DecisionError where a target is set that nobody could say was reached."""
    if target is None:
        return
    if measure.better is Better.NEITHER:
        raise DecisionError(
            f"of {measure.key} neither more nor less is better, so it has no target; pick another test"
        )
    if not measure.hard_low <= target <= measure.hard_high:
        raise DecisionError(
            f"the target {target:g} {measure.unit} is no possible value of {measure.key}; check number and unit"
        )


def _sentence(root: Path, made: Focus) -> audit.Details:
    return {"focus": made.focus_id, "measure": made.measure, "subject": audit.subject(root, made.athlete_id)}


def forget(root: Path, athlete_id: str, names: Callable[[str], bool]) -> int:
    """Empty the lines about an athlete, and texts of other lines that name them; return 1 where the log changed."""
    with durable.locked(root / LOCK):
        return forget_texts(root / LOG, athlete_id, names)
