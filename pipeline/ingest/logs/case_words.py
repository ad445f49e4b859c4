"""The log of a coach's own words on a case: one text for each part of an athlete's page of a stay; only added to.

The last text of a part is the one in force; an empty one takes it back. Words go to the family only where the coach
marked them for it, so they say nothing medical.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Final

from latewood.pipeline import durable
from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.consent.health import word_of_health
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.logs.audited import append_audited, note_late
from latewood.pipeline.ingest.logs.joins import joins_of
from latewood.pipeline.ingest.logs.lines import forget_texts, read_typed, whole_bytes
from latewood.pipeline.ingest.program import load_program

LOG: Final = "case_log.jsonl"
LOCK: Final = ".case_log.lock"
TEXT_LENGTH: Final = 400
SEEN, WORKED, CHANGED, MASS, NEXT = "seen", "worked", "changed", "mass", "next"
PARTS: Final = (SEEN, WORKED, CHANGED, MASS, NEXT)


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseWords:
    """One line of the log: who wrote what on which part of a stay's case, and whether the family may read it."""

    words_id: str
    at: str
    by: str
    athlete_id: str
    stay_id: str
    part: str
    text: str
    family: bool

    @property
    def on(self) -> date:
        """The day on which it was written, at the program's place."""
        return datetime.fromisoformat(self.at).date()


@dataclass(frozen=True, slots=True, kw_only=True)
class NewWords:
    """Words as they are handed in, before they have an id, a time and a name under them."""

    athlete_id: str
    stay_id: str
    part: str
    text: str
    family: bool = False


def read_log(root: Path) -> tuple[CaseWords, ...]:
    """Every text in the order of writing. Raises LandingError naming a line it cannot read."""
    return tuple(one for _, one in read_typed(whole_bytes(root / LOG), LOG, CaseWords, lambda one: one.on))


def in_force(root: Path, stay_id: str) -> Mapping[str, CaseWords]:
    """The last text of each part of a stay's case; parts without one, or with one taken back, are not there.

    What was written under an id that was joined into another belongs to the stay of the id that is kept.
    """
    heads = joins_of(root).heads()
    last = {one.part: one for one in read_log(root) if _stay_now(one, heads) == stay_id}
    return {part: one for part, one in last.items() if one.text}


def _stay_now(one: CaseWords, heads: Mapping[str, str]) -> str:
    kept = heads.get(one.athlete_id, one.athlete_id)
    return kept + one.stay_id.removeprefix(one.athlete_id)


def write(root: Path, draft: NewWords, by: str) -> CaseWords:
    """Write words down. Raises DecisionError without a name, for an unknown part, or where the text is too long."""
    plain = " ".join(draft.text.split())
    if not by.strip():
        raise DecisionError("who writes is not named; write your name")
    if draft.part not in PARTS:
        raise DecisionError(f"part {draft.part!r} is not one of {', '.join(PARTS)}")
    if len(plain) > TEXT_LENGTH:
        raise DecisionError(f"the text has {len(plain)} characters; up to {TEXT_LENGTH} are kept")
    if health := word_of_health(plain):
        raise DecisionError(
            f"the text speaks of health ({health!r}), and a case may be printed; leave that out"
        )
    at = load_program(root).now().isoformat()
    with durable.locked(root / LOCK):
        last = next(reversed(read_log(root)), None)
        if last is not None:
            note_late(root, "case", last.by, _details(root, last))
        position = whole_bytes(root / LOG).count(b"\n")
        body = json.dumps([position, at, by, draft.stay_id, draft.part, plain], ensure_ascii=False)
        made = CaseWords(
            words_id=hashlib.sha256(body.encode()).hexdigest()[:12],
            at=at,
            by=by.strip(),
            athlete_id=draft.athlete_id,
            stay_id=draft.stay_id,
            part=draft.part,
            text=plain,
            family=draft.family,
        )
        append_audited(root, root / LOG, asdict(made), by, _details(root, made))
    return made


def _details(root: Path, made: CaseWords) -> audit.Details:
    return {
        "case": made.words_id, "part": made.part, "for the family": made.family,
        "subject": audit.subject(root, made.athlete_id),
    }  # fmt: skip


def forget(root: Path, athlete_id: str, names: Callable[[str], bool]) -> int:
    """Empty the lines about an athlete, and texts of other lines that name them; return 1 where the log changed."""
    with durable.locked(root / LOCK):
        return forget_texts(root / LOG, athlete_id, names)
