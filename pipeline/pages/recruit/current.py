"""Which issued sheets still print what the data say. A sheet is superseded where its print would change, only there."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import Consents, refusal
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.logs.decisions import read
from latewood.pipeline.ingest.logs.joins import LOG, ever_joined, joins_of
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.pages import register
from latewood.pipeline.pages.keys import Signer, known_public, signer
from latewood.pipeline.pages.record import ProgramRecord, read_record
from latewood.pipeline.pages.recruit.data import as_data
from latewood.pipeline.pages.recruit.make import Choice, make_summary
from latewood.pipeline.pages.recruit.standing import Pool, make_pool
from latewood.pipeline.warehouse.connection import open_published, read_sql

CHANGED = "its numbers read otherwise by newer data"
STATED_GONE = "a line stated by the family was changed, withdrawn or has ended"
_NOT_COMPARED = {"schema", "provenance"}  # an older form of the data, and what differs between any two issues


def supersede_changed(root: Path, subjects: Collection[str] | None = None) -> int:
    """Mark every sheet in force that would read otherwise by the published build, or by what the family states today.

    Returns how many. `subjects` bounds it to the sheets of some tokens. Raises NothingPublishedError where nothing
    was built.
    """
    public = known_public(root)
    if public is None:
        return 0
    marked = supersede_stated(root, subjects)
    older = _older(root, public, subjects)
    return marked + (supersede_by(read_record(root), signer(root), older) if older else 0)


def supersede_stated(
    root: Path, subjects: Collection[str] | None = None, known: Consents | None = None
) -> int:
    """Mark every sheet in force with a printed statement that does not stand today as it was printed; return how many.

    What the family states anew and a sheet does not hold supersedes nothing. `known` are the consents of this moment,
    where they have been read.
    """
    public = known_public(root)
    if public is None:
        return 0
    program = load_program(root)
    printed = [
        (entry, stated)
        for entry in register.read(root, public).in_force()
        if (subjects is None or entry.subject in subjects)
        and date.fromisoformat(entry.valid_until) >= program.today()
        and (stated := _stated_on(root, entry.page_hash))
    ]
    if not printed:
        return 0
    consents, joins = (known or consent_book.standing(root)).by_athlete, joins_of(root)
    athletes = {token: joins.head(athlete) for athlete, token in audit.subjects(root).items()}
    gone = []
    for entry, stated in printed:
        consent = consents.get(athletes.get(entry.subject, ""))
        now = {one.field: (one.text, one.until.isoformat()) for one in consent.stated} if consent else {}
        if any(now.get(field) != what for field, what in stated.items()):
            gone.append(entry)
    if gone:
        became = register.LaterState(state="superseded", why=STATED_GONE, at=program.now().isoformat())
        register.mark(root, signer(root), gone, became)
    return len(gone)


def _stated_on(root: Path, page_hash: str) -> dict[str, tuple[str, str]]:
    """What the family states on an issued sheet: text and end by field."""
    kept = register.printed(root, page_hash)
    stated = kept["data"]["person"].get("stated", []) if kept else []
    return {one["field"]: (one["text"], one["until"]) for one in stated}


def supersede_joined(root: Path) -> int:
    """The same for the sheets of ids that were ever joined; return how many."""
    joined = ever_joined(read(root / LOG))
    known = audit.subjects(root)
    return supersede_changed(root, {known[one] for one in joined if one in known}) if joined else 0


def _older(root: Path, public: str, subjects: Collection[str] | None) -> list[register.RegisterLine]:
    """The sheets in force that another build than the published one was printed from."""
    mine = [e for e in register.read(root, public).in_force() if subjects is None or e.subject in subjects]
    if not mine:
        return []
    with closing(open_published(root)) as connection:
        build_id = connection.execute(read_sql("read/summary_build.sql")).fetchall()[0][0]
    return [e for e in mine if e.build_id != build_id]


def supersede_by(record: ProgramRecord, key: Signer, entries: Sequence[register.RegisterLine]) -> int:
    """Mark those of the sheets that would read otherwise by a record; return how many."""
    older = [
        one
        for one in entries
        if one.build_id != record.build_id and date.fromisoformat(one.valid_until) >= record.today
    ]
    if not older:
        return 0
    consents = consent_book.standing(record.root)
    joins = joins_of(record.root)
    athletes = {token: joins.head(athlete) for athlete, token in audit.subjects(record.root).items()}
    past = _Past(record)
    why: dict[str, list[register.RegisterLine]] = {}
    for entry in older:
        athlete = athletes.get(entry.subject)
        if athlete is None:
            continue
        reason = _reason(past, consents, athlete, entry.page_hash)
        if reason:
            why.setdefault(reason, []).append(entry)
    for reason, changed in why.items():
        at = record.program.now().isoformat()
        register.mark(record.root, key, changed, register.LaterState(state="superseded", why=reason, at=at))
    return sum(len(changed) for changed in why.values())


class _Past:
    """A record seen from earlier days, with the pool of each day made once."""

    def __init__(self, record: ProgramRecord) -> None:
        self.record = record
        self._made: dict[date, tuple[ProgramRecord, Pool]] = {}

    def on(self, day: date) -> tuple[ProgramRecord, Pool]:
        """The record with another day as today: ages of values are counted from the day a sheet was made."""
        if day not in self._made:
            then = replace(self.record, program=replace(self.record.program, clock=day))
            self._made[day] = (then, make_pool(then))
        return self._made[day]


def _reason(past: _Past, consents: Consents, athlete_id: str, page_hash: str) -> str:
    """Why a sheet is superseded by a record; '' where it prints the same, or its consent was withdrawn."""
    record, kept = past.record, register.printed(past.record.root, page_hash)
    consent = consents.by_athlete.get(athlete_id)
    if kept is None or (consent is not None and consent.withdrawn_on is not None):
        return ""
    known = record.athletes.get(athlete_id)
    if known is None or consent is None or refusal(consents, athlete_id, known.birth_date, record.today):
        return "no such sheet may be made any more"
    then, pool = past.on(date.fromisoformat(kept["data"]["provenance"]["made_on"]))
    try:
        now = make_summary(then, pool, athlete_id, consent, choice_of(kept["data"]))
    except LatewoodError:
        return "no such sheet may be made any more"
    return "" if prints_the_same(kept["data"], as_data(now)) else CHANGED


def choice_of(data: Mapping[str, Any]) -> Choice:
    """What was chosen for a sheet, from its data."""
    keys = tuple(m["key"] for m in data["measures"])
    projection = any(m["projection"] for m in data["measures"])
    stated = tuple(one["field"] for one in data["person"].get("stated", []))
    return Choice(measures=keys, units=data["units"], projection=projection, stated=stated)


def prints_the_same(kept: Mapping[str, Any], now: Mapping[str, Any]) -> bool:
    """Whether all that a sheet holds reads the same today. What its form did not have yet is not compared.

    What the family states is not of the data: `supersede_stated` asks for it.

    >>> kept = {"measures": [{"key": "a", "best": 1}, {"key": "b", "best": 2}], "schema": "form 2"}
    >>> prints_the_same(kept, {"measures": [{"key": "b", "best": 2}, {"key": "a", "best": 1, "camp": "K"}]})
    True
    >>> prints_the_same(kept, {"measures": [{"key": "b", "best": 3}, {"key": "a", "best": 1}]})
    False
    """
    compared = {k: v for k, v in kept.items() if k not in _NOT_COMPARED}
    if "person" in compared:
        compared["person"] = {k: v for k, v in compared["person"].items() if k != "stated"}
    return _same(compared, now)


def _same(kept: object, now: object) -> bool:
    if isinstance(kept, Mapping):
        return isinstance(now, Mapping) and all(key in now and _same(kept[key], now[key]) for key in kept)
    if isinstance(kept, list):
        if not isinstance(now, list) or len(kept) != len(now):
            return False
        by_key = all(isinstance(one, Mapping) and "key" in one for one in (*kept, *now))
        pairs = (sorted(kept, key=_key), sorted(now, key=_key)) if by_key else (kept, now)
        return all(_same(a, b) for a, b in zip(*pairs, strict=True))
    return kept == now


def _key(one: Mapping[str, Any]) -> str:
    return str(one["key"])
