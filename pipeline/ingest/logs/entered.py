"""What was typed on a screen, as imports: one per day of entries, and one for the plans of the plan log.

entries/<day>.jsonl holds values with who typed them and when, one line each, only added to; taking one back is
another line. To the build such a file is an import like any other: its rows pass the row rules, are held, and
leave with a withdrawal.

A line can also say that somebody could not be weighed or tested on a day, with one reason of a short list and no
detail; such a line is no reading. What a browser sends carries an id of its own (`sent_id`), so that sending it twice
saves it once.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any, Final

from latewood.pipeline import durable
from latewood.pipeline.errors import DecisionError, EntryDoubtError
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.logs import audit, planlog
from latewood.pipeline.ingest.logs.joins import joins_of
from latewood.pipeline.ingest.logs.lines import read_typed, rewrite, whole_bytes
from latewood.pipeline.ingest.logs.typed_check import TypedValue, doubt_about
from latewood.pipeline.ingest.program import load_program

FOLDER: Final = "entries"
LOOK_BACK_DAYS: Final = 7
MAPPING: Final = "entered on a screen"
Slot = tuple[str, str, int]  # athlete, measure and trial
ABSENT: Final = {
    "ill": "ill",
    "injured": "injured",
    "away": "away",
    "other": "other reason",
}  # never more detail


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedEntry:
    """One typed value, or (with `undoes`) the taking back of an earlier one. `confirmed` is the doubt answered.

    With `absent` it is no value but why the athlete could not be measured that day, a key of ABSENT.
    """

    entry_id: str
    at: str
    by: str
    athlete_id: str = ""
    measure: str = ""
    measured_on: str = ""
    value: str = ""
    unit: str = ""
    trial: int = 1
    conditions: Mapping[str, str] = field(default_factory=dict)
    confirmed: str = ""
    undoes: str = ""
    absent: str = ""
    sent_id: str = ""


def enter(
    root: Path,
    typed: TypedValue,
    by: str,
    *,
    trial: int = 1,
    confirmed: str = "",
) -> TypedEntry:
    """Save one typed value; it is on the disk when this returns.

    Raises DecisionError where nobody is named or the value cannot be taken, and EntryDoubtError where it does not fit
    the athlete: with the error's question as `confirmed` it is saved, and the question beside it.
    """
    entry = TypedEntry(
        entry_id="", at="", by=by, athlete_id=typed.athlete_id, measure=typed.measure, measured_on=typed.on.isoformat(),
        value=typed.text, unit=typed.unit, trial=trial, conditions=dict(typed.conditions), confirmed=confirmed,
    )  # fmt: skip
    return enter_once(root, entry)


def enter_once(root: Path, entry: TypedEntry) -> TypedEntry:
    """Save an entry that has no id and time yet; one whose `sent_id` is in the log already is returned as it is there.

    Raises as `enter` does.
    """
    _named(entry)
    earlier = sent_before(root, entry.sent_id)
    if earlier is not None:
        return earlier
    doubt = doubt_about(root, _value(entry), [_value(one) for one in _lately(root)])
    if doubt and entry.confirmed != doubt:
        raise EntryDoubtError(doubt)
    return _save(root, replace(entry, confirmed=doubt))


def note_absent(root: Path, entry: TypedEntry) -> TypedEntry:
    """Note that an athlete cannot be measured today; raises DecisionError where the reason is not one of ABSENT."""
    if entry.absent not in ABSENT:
        raise DecisionError(f"reason '{entry.absent}' is not one of {', '.join(ABSENT)}; pick one of these")
    return _save(root, replace(entry, value="", unit="", confirmed=""))


def sent_before(root: Path, sent_id: str) -> TypedEntry | None:
    """The line a browser's entry was saved as in the last days, also where it was taken back since."""
    if not sent_id:
        return None
    for path in late_files(root, load_program(root).today()):
        for _, entry in read_lines_of(whole_bytes(path), path.name):
            if entry.sent_id == sent_id:
                return entry
    return None


def late_files(root: Path, today: date) -> list[Path]:
    """The files of the last days, the earliest first; of days ahead too, typed before the clock was set back."""
    since = (today - timedelta(days=LOOK_BACK_DAYS)).isoformat()
    return [path for path in sorted((root / FOLDER).glob("????-??-??.jsonl")) if path.stem >= since]


def absences(root: Path, day: date) -> tuple[TypedEntry, ...]:
    """Who was noted on a day as not to be measured, and not taken back."""
    path = root / FOLDER / f"{day.isoformat()}.jsonl"
    return tuple(entry for _, entry in _kept(whole_bytes(path), path.name) if entry.absent)


def _lately(root: Path) -> list[TypedEntry]:
    """What was typed today and on the days before, which the published build may not hold."""
    return [
        one
        for path in late_files(root, load_program(root).today())
        for one in current_entries(root, date.fromisoformat(path.stem))
    ]


def _value(entry: TypedEntry) -> TypedValue:
    return TypedValue(
        athlete_id=entry.athlete_id, measure=entry.measure, on=date.fromisoformat(entry.measured_on),
        text=entry.value, unit=entry.unit, conditions=tuple(entry.conditions.items()),
    )  # fmt: skip


def _named(entry: TypedEntry) -> None:
    if not entry.by.strip():
        raise DecisionError("who enters is not named; write your name first")


def take_back(root: Path, entry: TypedEntry, by: str) -> TypedEntry:
    """Take a typed value back: the line stays on record, the value no longer counts."""
    return _save(root, TypedEntry(entry_id="", at="", by=by, undoes=entry.entry_id))


def _save(root: Path, entry: TypedEntry) -> TypedEntry:
    _named(entry)
    now = load_program(root).now()
    path = root / FOLDER / f"{now.date().isoformat()}.jsonl"
    with durable.locked(root / ".entries.lock"):
        earlier = sent_before(root, entry.sent_id)
        if earlier is not None:
            return earlier
        position = whole_bytes(path).count(b"\n")
        body = f"{path.name}\n{position}\n{entry.athlete_id}\n{entry.measure}\n{entry.value}"
        saved = replace(
            entry,
            entry_id=hashlib.sha256(body.encode()).hexdigest()[:12],
            at=now.isoformat(),
            by=entry.by.strip(),
        )
        audit.add_line(root, path, asdict(saved))
    return saved


def current_entries(root: Path, day: date) -> tuple[TypedEntry, ...]:
    """The values typed on one day that were not taken back, in the order in which they were typed.

    Each under the id as which its athlete is read now.
    """
    path, joins = root / FOLDER / f"{day.isoformat()}.jsonl", joins_of(root)
    current = (entry for _, entry in standing_lines(whole_bytes(path), path.name))
    return tuple(replace(entry, athlete_id=joins.head(entry.athlete_id)) for entry in current)


def times_emptied(root: Path, day: date) -> Mapping[Slot, int]:
    """How often each trial typed on a day was left without a value by a taking back."""
    path, joins = root / FOLDER / f"{day.isoformat()}.jsonl", joins_of(root)
    held: dict[Slot, set[str]] = {}
    place: dict[str, Slot] = {}
    times: Counter[Slot] = Counter()
    for _, entry in read_lines_of(whole_bytes(path), path.name):
        if entry.absent:
            continue
        if not entry.undoes:
            slot = (joins.head(entry.athlete_id), entry.measure, entry.trial)
            place[entry.entry_id] = slot
            held.setdefault(slot, set()).add(entry.entry_id)
        elif entry.undoes in place:
            slot = place[entry.undoes]
            held[slot].discard(entry.undoes)
            times[slot] += not held[slot]
    return times


def forget(root: Path, athlete_id: str) -> int:
    """Empty the lines of everything typed for an athlete, and their taking back; return the files changed."""
    changed = 0
    with durable.locked(root / ".entries.lock"):
        for path in sorted((root / FOLDER).glob("*.jsonl")):
            entries = [entry for _, entry in read_lines_of(whole_bytes(path), path.name)]
            own = {entry.entry_id for entry in entries if entry.athlete_id == athlete_id}
            changed += bool(rewrite(path, partial(_unless, own)))
    return changed


def _unless(gone: set[str], record: dict[str, Any]) -> dict[str, Any] | None:
    return None if {str(record["entry_id"]), str(record["undoes"])} & gone else record


def read_lines_of(content: bytes, name: str) -> list[tuple[int, TypedEntry]]:
    """Every line of a day's file, those that take back too. Raises LandingError naming a line it cannot read."""
    return read_typed(content, name, TypedEntry, _see_days)


def _see_days(entry: TypedEntry) -> None:
    datetime.fromisoformat(entry.at)
    if not entry.undoes:
        date.fromisoformat(entry.measured_on)


def standing_lines(content: bytes, name: str) -> list[tuple[int, TypedEntry]]:
    """The values that count."""
    return [(n, entry) for n, entry in _kept(content, name) if not entry.absent]


def _kept(content: bytes, name: str) -> list[tuple[int, TypedEntry]]:
    entries = read_lines_of(content, name)
    gone = {entry.undoes for _, entry in entries if entry.undoes}
    return [(n, entry) for n, entry in entries if not entry.undoes and entry.entry_id not in gone]


def is_entered(manifest: landing.Manifest) -> bool:
    """Whether an import was typed on a screen rather than received as a file."""
    return manifest.mapping_name == MAPPING


def all_imports(root: Path) -> list[landing.Manifest]:
    """Every import of a data folder, files and typed entries, in the order in which they came.

    A day of entries takes its place at its first entry. Raises LandingError.
    """
    result = list(landing.manifests(root / "landing"))
    days = [_day_manifest(root, path) for path in sorted((root / FOLDER).glob("*.jsonl"))]
    log = _log_manifest(root)
    for typed in (one for one in (*days, log) if one is not None):
        place = sum(one.received <= typed.received for one in result)
        result.insert(place, typed)
    return result


def _day_manifest(root: Path, path: Path) -> landing.Manifest | None:
    content = whole_bytes(path)
    entries = [entry for _, entry in read_lines_of(content, path.name)]
    if not any(entry.value for entry in entries):
        return None
    rows = len(standing_lines(content, path.name))
    return _manifest(f"{FOLDER}/{path.name}", content, f"Typed on {path.stem}", entries, rows)


def _import_id(stored_as: str) -> str:
    return hashlib.sha256(f"{MAPPING}\n{stored_as}".encode()).hexdigest()[:12]


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedDay:
    """The file of one day of entries as it is now: every line, and those that stand, each with its number."""

    import_id: str
    content: bytes
    lines: Sequence[tuple[int, TypedEntry]]

    @property
    def standing(self) -> list[tuple[int, TypedEntry]]:
        """The values that were not taken back."""
        gone = {entry.undoes for _, entry in self.lines if entry.undoes}
        return [(n, one) for n, one in self.lines if not one.undoes and one.entry_id not in gone]

    def lines_in(self, sha256: str | None) -> int | None:
        """Up to which line a build has the file, by the hash it kept: 0 where it has none, None if it was rewritten."""
        if sha256 is None:
            return 0
        so_far = hashlib.sha256()
        for number, line in enumerate(self.content.splitlines(keepends=True), start=1):
            so_far.update(line)
            if so_far.hexdigest() == sha256:
                return number
        return None


def typed_days(root: Path, today: date) -> tuple[TypedDay, ...]:
    """The days of entries that the published build may not hold whole; raises LandingError."""
    result = []
    for path in late_files(root, today):
        content = whole_bytes(path)
        if content:
            lines = read_lines_of(content, path.name)
            result.append(
                TypedDay(import_id=_import_id(f"{FOLDER}/{path.name}"), content=content, lines=lines)
            )
    return tuple(result)


def _log_manifest(root: Path) -> landing.Manifest | None:
    content = whole_bytes(root / planlog.LOG)
    events = planlog.parse_log(content)
    if not events:
        return None
    rows = sum(event.kind == planlog.VERSION for event in events)
    return _manifest(planlog.LOG, content, "Plans made on the screen", events, rows)


def _manifest(
    stored_as: str,
    content: bytes,
    name: str,
    lines: Sequence[TypedEntry | planlog.PlanEvent],
    rows: int,
) -> landing.Manifest:
    return landing.Manifest(
        import_id=_import_id(stored_as),
        sha256=landing.file_hash(content),
        file_name=name,
        stored_as=stored_as,
        size=len(content),
        kind="plans" if stored_as == planlog.LOG else "readings",
        mapping_name=MAPPING,
        mapping_text="",
        received_at=lines[0].at,
        received_by=", ".join(dict.fromkeys(line.by for line in lines)),
        sequence=0,
        rows_in=rows,
        notes=(),
    )
