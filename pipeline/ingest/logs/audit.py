"""The audit log: who exported, consented, decided or signed in, one JSON line each, chained by hashes.

Decided means answers to held rows, withdrawals, and everything in the plan log. Typed values and imported files are
not here: their own append-only files say who and when.

A line holds the hash of the line before it, so that a line removed, edited or moved is seen. The head of the chain
stands a second time in a file of its own, so that lines cut off at the end are seen too. The limit: whoever may
write both files can write a whole new log, unless the head is keyed (audit_key.py) or a receipt of it was kept outside
the folder (receipt.py).

Lines name an athlete only by a token. What token belongs to whom stands in subjects.json; an erasure removes it
there, and the log stays whole.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from latewood.pipeline import durable
from latewood.pipeline.errors import AuditError, LatewoodError, StorageError
from latewood.pipeline.ingest.logs import content
from latewood.pipeline.ingest.logs.audit_key import KEY, is_keyed, key_of, keyed, new_key
from latewood.pipeline.ingest.logs.lines import append_line
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.steps import reached

EVENTS = (
    *("export", "export refused", "consent", "decision", "erasure", "sign-in", "sign-out", "refused"),
    *("log mended", "restore", "content checks begin"),
)
MENDED, MENDER = "log mended", "latewood"
BEGIN = "content checks begin"
FIRST = "0" * 64
ERASURES = "erasures.jsonl"
Details = Mapping[str, str | int | bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditLine:
    """One line of the log."""

    number: int
    at: str
    event: str
    who: str
    details: Details
    before: str
    hash: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditState:
    """What a check of the log found: nothing wrong where `problems` is empty."""

    n: int
    head: str
    problems: tuple[str, ...]
    notes: tuple[str, ...] = ()  # what is no alarm: a line that power or a crash cut short

    @property
    def whole(self) -> bool:
        """Whether every line is there, as written and in its order."""
        return not self.problems


def append(root: Path, event: str, who: str, details: Details) -> AuditLine:
    """Add one line and wait until it is on the disk.

    A line that a crash left unfinished is cut off, and a line of its own says so. Raises AuditError where the event
    is not one of EVENTS, or the log no longer fits its head: then nothing is added, so that the trace of what was
    done to it is not covered up.
    """
    if event not in EVENTS:
        raise AuditError(f"event {event!r} is not one of {', '.join(EVENTS)}")
    log, head = _paths(root)
    with durable.locked(log.parent / ".audit.lock"):
        last = _last(log)
        _fits_head(head, last)
        if last is not None and _read_head(head) != (last.number, last.hash):
            _write_head(
                head, last
            )  # a crash came between the two writes; a second one must not make them two apart
        at = load_program(root).now().isoformat()
        torn = durable.torn_end(log)
        if torn:
            reported: Details = {"bytes": len(torn), "sha256": hashlib.sha256(torn).hexdigest()}
            last = _add(log, head, _next(last, at, MENDED, MENDER, reported))
        return _add(log, head, _next(last, at, event, who, details))


def _add(log: Path, head: Path, line: AuditLine) -> AuditLine:
    """Write a line and then the head; where the head cannot be written the line goes again."""
    text = json.dumps(asdict(line), ensure_ascii=False, sort_keys=True) + "\n"
    full = durable.size_of(log) - len(durable.torn_end(log))
    durable.append_lines(log, text.encode())
    try:
        _write_head(head, line)
    except StorageError:
        durable.cut_back(log, full)
        raise
    return line


def _next(last: AuditLine | None, at: str, event: str, who: str, details: Details) -> AuditLine:
    return _sealed(
        AuditLine(
            number=last.number + 1 if last else 1,
            at=at,
            event=event,
            who=who.strip() or "unknown",
            details=dict(details),
            before=last.hash if last else FIRST,
            hash="",
        )
    )


def content_begun(root: Path) -> bool:
    """Whether this log names the beginning of the content log."""
    log = _paths(root)[0]
    return log.exists() and f'"event": "{BEGIN}"'.encode() in log.read_bytes()


def ready(root: Path) -> None:
    """See that content is checked from here on, and that settings changed by hand are noted; before any action.

    Raises AuditError where the content log was begun and is gone: beginning it again would hide what was edited.
    """
    with content.held(root):
        named, begun = content_begun(root), content.is_begun(root)
        if (named and not content.exists(root)) or (begun and not named):
            raise AuditError(
                "landing/content.jsonl and landing/audit.jsonl do not belong together: one of them is gone or was cut; "
                "see `latewood check`, restore both from a backup"
            )
        if not named:
            content.begin(root)
            reached("content written")
            append(root, BEGIN, MENDER, {})
        if not begun:
            reached("content named")
            content.mark_begun(root)
        content.mark_settings(root)


def add_line(
    root: Path, path: Path, record: Mapping[str, Any], told: tuple[str, str, Details] | None = None
) -> None:
    """Add a record to a log, mark it in the content log, and log it as (event, who, details); all, or nothing.

    The one way to write a line of a log; the caller holds the log's lock. Raises the error of whichever cannot be
    written; then the record is not there either: what is not in the audit log was not decided.
    """
    ready(root)
    log = path.relative_to(root).as_posix()
    with content.held(root):
        content.mark_late(root, log)
        size = durable.size_of(path) - len(durable.torn_end(path))
        append_line(path, record)
        reached("line written")
        try:
            if told is not None:
                append(root, *told)
        except LatewoodError:
            durable.cut_back(path, size)
            raise
        reached("line told")
        try:
            content.mark_last(root, log)
        except StorageError:
            if told is None:
                durable.cut_back(path, size)
                raise
            # It is decided and told; the next line marks it late.


def check(root: Path) -> AuditState:
    """Read the whole log and tell every place where it is not as it was written."""
    log, head = _paths(root)
    problems: list[str] = []
    before, number, read, earlier = FIRST, 0, 0, FIRST
    for position, text in enumerate(_raw_lines(log), start=1):
        read += 1
        try:
            line = _parsed(text)
        except AuditError as error:
            problems.append(f"line {position}: {error}")
            continue
        if _sealed(line).hash != line.hash:
            problems.append(f"line {position}: was edited after it was written")
        if line.before != before or line.number != number + 1:
            problems.append(f"line {position}: does not follow the line before it; one was removed or moved")
        before, number, earlier = line.hash, line.number, line.before
    problems += [*_head_problems(head, (number, before), earlier), *_key_problems(head)]
    torn = durable.torn_end(log)
    notes = (
        f"after line {read} stand {len(torn)} bytes of a line that was never finished, so nobody was told it was "
        "written; the next line cuts them off and says so",
    )
    return AuditState(n=read, head=before, problems=tuple(problems), notes=notes if torn else ())


def lines(root: Path) -> tuple[AuditLine, ...]:
    """Every line that can be read, in the order of the file; whether they are whole says `check`."""
    result = []
    for text in _raw_lines(_paths(root)[0]):
        try:
            result.append(_parsed(text))
        except AuditError:
            continue
    return tuple(result)


def subject(root: Path, athlete_id: str) -> str:
    """The token under which log and register name an athlete, made at first use."""
    path = root / "landing" / "subjects.json"
    with durable.locked(path.parent / ".subjects.lock"):
        known = subjects(root)
        if athlete_id not in known:
            known[athlete_id] = secrets.token_hex(8)
            _write_subjects(root, known)
    return known[athlete_id]


def name_subjects(root: Path, athlete_ids: Sequence[str]) -> dict[str, str]:
    """Give a token to each of these athletes who has none; return the token of every athlete who has one."""
    path = root / "landing" / "subjects.json"
    with durable.locked(path.parent / ".subjects.lock"):
        known = subjects(root)
        new = {one: secrets.token_hex(8) for one in athlete_ids if one not in known}
        if new:
            _write_subjects(root, known | new)
    return known | new


def note_erasure(root: Path, token: str) -> None:
    """Write down whose token belongs to nobody any more, for restores of backups from before; it names nobody."""
    path = root / "landing" / ERASURES
    reported = {"at": load_program(root).now().isoformat(), "token": token}
    with durable.locked(path.parent / ".subjects.lock"):
        add_line(root, path, reported)


def subjects(root: Path) -> dict[str, str]:
    """The token of every athlete who has one.

    Raises AuditError where the file cannot be read.
    """
    path = root / "landing" / "subjects.json"
    if not path.exists():
        return {}
    try:
        return {str(k): str(v) for k, v in json.loads(path.read_text(encoding="utf-8")).items()}
    except (ValueError, AttributeError, OSError) as error:
        raise AuditError(
            f"landing/subjects.json: cannot be read ({error}); restore it from a backup"
        ) from error


def forget_subject(root: Path, athlete_id: str) -> str | None:
    """Remove an athlete from the list of tokens, and return the token that now belongs to nobody."""
    path = root / "landing" / "subjects.json"
    if not path.exists():
        return None
    with durable.locked(path.parent / ".subjects.lock"):
        known = subjects(root)
        token = known.pop(athlete_id, None)
        if token is not None:
            _write_subjects(root, known)
    return token


def _paths(root: Path) -> tuple[Path, Path]:
    return root / "landing" / "audit.jsonl", root / "landing" / "audit.head"


def _raw_lines(log: Path) -> list[str]:
    """The whole lines of the file; a last one without its end (power lost while writing) was never confirmed."""
    if not log.exists():
        return []
    full, _, _ = log.read_bytes().rpartition(b"\n")
    return full.decode("utf-8", errors="replace").split("\n") if full else []


def _parsed(text: str) -> AuditLine:
    try:
        result = AuditLine(**json.loads(text))
        texts = (result.at, result.event, result.who, result.before, result.hash)
        full = type(result.number) is int and isinstance(result.details, dict)
        if not full or not all(isinstance(one, str) for one in texts):
            raise TypeError("a field is of another kind than was written")
        return result
    except (ValueError, TypeError, RecursionError) as error:
        raise AuditError(f"cannot be read ({error}); restore the log from a backup") from error


def _last(log: Path) -> AuditLine | None:
    """The last whole line, read from the end, so that a long log costs no more than a short one."""
    text = durable.last_line(log).decode("utf-8", errors="replace")
    try:
        return _parsed(text) if text else None
    except AuditError as error:
        raise AuditError(f"landing/audit.jsonl, the last line: {error}") from error


def _sealed(line: AuditLine) -> AuditLine:
    body = {key: value for key, value in asdict(line).items() if key != "hash"}
    text = json.dumps(body, ensure_ascii=False, sort_keys=True)
    return AuditLine(**body, hash=hashlib.sha256(text.encode()).hexdigest())


def _head_problems(head: Path, last: tuple[int, str], before_last: str) -> list[str]:
    if not head.exists() and last[0] > 1:  # with one line, a crash came before the head was ever written
        return ["audit.head: is missing; whether lines were cut off is not known"]
    noted = _read_head(head)
    if noted == last or noted == (last[0] - 1, before_last):  # the second: power lost between the two writes
        return []
    if noted[0] > last[0]:
        return [
            f"the log ends at line {last[0]}, but audit.head names {noted[0]}: the last lines were cut off"
        ]
    return [f"audit.head names line {noted[0]}, which is not the end of the log; one of the two was changed"]


def _fits_head(head: Path, last: AuditLine | None) -> None:
    """Stop where the last line is not the one the head names; one line more is a crash between two writes."""
    number, noted = _read_head(head)
    unkeyed = _key_problems(head)
    if unkeyed:
        raise AuditError(f"{unkeyed[0]}; see `latewood audit`, restore it from a backup, or unset {KEY}")
    if last is None and number == 0:
        return
    if last is not None and (last.hash == noted or (last.number == number + 1 and last.before == noted)):
        return
    raise AuditError(
        "landing/audit.jsonl: does not end where audit.head says; see `latewood audit`, restore both from a backup"
    )


def _read_head(head: Path) -> tuple[int, str]:
    if not head.exists():
        return (0, FIRST)
    number, noted, *_ = [*head.read_text(encoding="utf-8", errors="replace").split(), "", ""]
    full = number.isascii() and number.isdigit() and len(number) < 20
    return (int(number), noted) if full else (0, FIRST)


def _write_head(head: Path, line: AuditLine) -> None:
    text, key = f"{line.number} {line.hash}", key_of(head.parent.parent)
    code = f" {keyed(key, text)}" if key else ""
    durable.write_atomically(head, f"{text}{code}\n".encode())


def begin_key(root: Path, path: Path) -> None:
    """Make a key in a file outside the folder and write the head with it. Raises AuditError, also for a cut log."""
    log, head = _paths(root)
    with durable.locked(log.parent / ".audit.lock"):
        last = _last(log)
        _fits_head(head, last)
        key = new_key(path, root)
        if last is not None:
            text = f"{last.number} {last.hash}"
            durable.write_atomically(head, f"{text} {keyed(key, text)}\n".encode())


def _key_problems(head: Path) -> list[str]:
    """Whether the head was written with the key of the environment, where there is one and a head."""
    key = key_of(head.parent.parent)
    if key is None or not head.exists():
        return []
    text, _, code = head.read_text(encoding="utf-8", errors="replace").strip().rpartition(" ")
    if is_keyed(key, text, code):
        return []
    return [f"audit.head: was not written with the key that {KEY} names; the log may have been made anew"]


def _write_subjects(root: Path, known: Mapping[str, str]) -> None:
    text = (json.dumps(dict(known), indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode()
    ready(root)
    with content.held(root):
        content.mark_subjects(root, text)
    reached("tokens marked")
    durable.write_atomically(root / content.SUBJECTS, text)
