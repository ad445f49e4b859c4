"""The content log: a hash of every line of every log and of every small file, so that an edit by hand is seen.

landing/content.jsonl holds one line for each: which file, which line, and the hash of its bytes; each is chained to the
line before it, and the end stands a second time in content.head. Hashes are made with a salt that stands in the first
line. An erasure writes the log anew with another salt, so that nothing can be guessed from a hash of what is gone.

The limit: whoever cuts this log, its head, the audit log, its head and the log in question to the same point, or makes
all of them anew, is not seen; only a copy kept elsewhere tells.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

from latewood.pipeline import durable
from latewood.pipeline.errors import AuditError, LatewoodError, StorageError
from latewood.pipeline.ingest.logs.lines import whole_bytes
from latewood.pipeline.ingest.program import load_program

LOG: Final = "landing/content.jsonl"
HEAD: Final = "landing/content.head"
LOCK: Final = "landing/.content.lock"
LOGS: Final = (
    *("decisions.jsonl", "plan_log.jsonl", "focus_log.jsonl", "case_log.jsonl", "video_log.jsonl"),
    "start_draws.jsonl",
    *("entries/*.jsonl", "landing/erasures.jsonl"),
)
SUBJECTS: Final = "landing/subjects.json"
SETTINGS: Final = ("program.toml", "measures.toml")
MANIFESTS: Final = "landing/[0-9a-f]*/*.json"
BEGIN, BEGUN, GONE = "begin", "begun", ""
_FIRST: Final = "0" * 64


@dataclass(frozen=True, slots=True, kw_only=True)
class ContentMark:
    """One line of the content log: a line of a log (from 1), or a whole file (line 0), and the hash of its bytes.

    The first line of all is BEGIN: the salt in place of a hash, and in place of a line how many edits were found by
    then.
    """

    log: str
    line: int
    sha256: str
    said: str = ""  # of settings the clock; of BEGIN when; 'late' where a crash came between line and mark
    chain: str = ""


def held(root: Path) -> AbstractContextManager[None]:
    """Let nobody else write marks; taken after the lock of a log and before that of the audit log."""
    return durable.locked(root / LOCK)


def exists(root: Path) -> bool:
    """Whether there is a content log with a line in it."""
    return bool(whole_bytes(root / LOG))


def end(root: Path) -> tuple[int, str]:
    """The number of lines and the head of the chain, as content.head names them; (0, '') before it is begun.

    Kept outside the folder they show later that the lines up to there are the same.
    """
    return _read_head(root)


def chain_at(root: Path, number: int) -> str:
    """The chain as the line of a number holds it; '' where there is no such line or it cannot be read."""
    texts = _raw_lines(root / LOG)
    try:
        return _mark(texts[number - 1], number).chain if 0 < number <= len(texts) else ""
    except AuditError:
        return ""


def is_begun(root: Path) -> bool:
    """Whether the content log is whole and the audit log says so; before that it may be begun again."""
    return _names(BEGUN) in whole_bytes(root / LOG)


def begin(root: Path, edits: int = 0, *, begun: bool = False) -> None:
    """Write the content log anew from what stands in the folder now; the lock is held.

    `edits` are those that were found by then: they stay told, so that nobody hides one behind an erasure.
    """
    salt, at = secrets.token_hex(16), load_program(root).now().isoformat()
    marks = [ContentMark(log=BEGIN, line=edits, sha256=salt, said=at), *_as_it_is(root, salt)]
    if begun:
        marks.append(ContentMark(log=BEGUN, line=0, sha256=GONE))
    chain, text = _FIRST, ""
    for mark in marks:
        made = _chained(mark, chain)
        chain, text = made.chain, text + _text(made)
    durable.write_atomically(root / LOG, text.encode())
    _write_head(root, len(marks), chain)


def begin_again(root: Path, edits: int) -> None:
    """Write the content log anew after an erasure; the old salt and every hash made with it are gone."""
    with held(root):
        if is_begun(root):
            begin(root, edits, begun=True)


def mark_begun(root: Path) -> None:
    """Note that the audit log names the beginning; the lock is held."""
    _add(root, ContentMark(log=BEGUN, line=0, sha256=GONE))


def mark_last(root: Path, log: str) -> None:
    """Mark the last line of a log that was just written; the lock is held."""
    raw = _raw_lines(root / log)
    _add(root, ContentMark(log=log, line=len(raw), sha256=_hashed(_salt(root), raw[-1])))


def mark_late(root: Path, log: str) -> None:
    """Mark the last line of a log where a crash came before its mark; the lock is held."""
    _end(root)
    raw = _raw_lines(root / log)
    if raw and _last_line(root, log) == len(raw) - 1 and raw[-1] not in raw[:-1]:
        sha256 = _hashed(_salt(root), raw[-1])
        _add(root, ContentMark(log=log, line=len(raw), sha256=sha256, said="late"))


def mark_subjects(root: Path, content: bytes) -> None:
    """Mark the tokens that are about to be written; the lock is held.

    Raises AuditError where those that stand there now were not written by this tool: they would count as written.
    """
    path, salt = root / SUBJECTS, _salt(root)
    hashes = _whole_files(_read(root)).get(SUBJECTS, [GONE])
    now = _hashed(salt, path.read_bytes()) if path.exists() else GONE
    if now not in {hashes[-1], _before(hashes)}:
        raise AuditError(f"{SUBJECTS}: the tokens are not those that were written; restore it from a backup")
    if now != hashes[-1]:  # they were marked, and a crash or a full disk came before they were written
        _add(root, ContentMark(log=SUBJECTS, line=0, sha256=now))
    mark_file(root, SUBJECTS, content)


def _before(hashes: Sequence[str]) -> str:
    return hashes[-2] if len(hashes) > 1 else GONE


def mark_file(root: Path, name: str, content: bytes | None) -> None:
    """Mark what is about to stand in a whole file, None where it goes; the lock is held."""
    sha256 = GONE if content is None else _hashed(_salt(root), content)
    _add(root, ContentMark(log=name, line=0, sha256=sha256))


def mark_settings(root: Path) -> None:
    """Mark settings that were changed since, with the clock they name; the lock is held."""
    for name in SETTINGS:
        mark, last = _of_settings(root, name, _salt(root)), _last_mark(root, name)
        if mark.sha256 != (last.sha256 if last else GONE):
            _add(root, mark)


def mark_arrival(root: Path, name: str) -> None:
    """Mark the manifest of an import that has just landed."""
    with held(root):
        mark_file(root, name, (root / name).read_bytes())


def mark_taken_back(root: Path, name: str) -> None:
    """Mark that the manifest of an import is about to go, since its build failed."""
    with held(root):
        if is_begun(root):
            mark_file(root, name, None)


def mark_late_arrival(root: Path) -> None:
    """Mark the manifest that landed last where a crash came before its mark."""
    with held(root):
        marks = _whole_files(_read(root))
        for name in _manifests(root):
            if marks.get(name, [GONE])[-1] == GONE and _is_newest(root, name):
                mark_file(root, name, (root / name).read_bytes())


def findings(root: Path, *, audited: bool) -> Iterator[tuple[bool, str]]:
    """What does not stand as it was written: whether it is wrong, and file, line and what in words.

    `audited` is whether the audit log names the beginning of the content log.
    """
    if not is_begun(root) or not audited:
        yield _not_begun(root, audited=audited)
        if not audited:
            return
    damaged = list(_chain_problems(root))
    yield from ((True, one) for one in damaged)
    if damaged or not is_begun(root):
        return
    marks = _read(root)
    if marks[0].line:
        yield (
            True,
            f"{marks[0].line} hand edits were found before the content log was written anew on {marks[0].said[:10]}",
        )
    for name in sorted({*_logs(root), *(one.log for one in marks if one.line and one.log != BEGIN)}):
        yield from _of_log(root, name, marks)
    files = _whole_files(marks)
    for name in sorted({
        *_manifests(root),
        *(one for one in files if one.endswith(".json") and one != SUBJECTS),
    }):
        yield from _of_manifest(root, name, files.get(name, [GONE])[-1], marks[0].sha256)
    yield from _of_subjects(root, files.get(SUBJECTS, [GONE]), marks[0].sha256)
    yield from _settings_changed(root, marks)


def _not_begun(root: Path, *, audited: bool) -> tuple[bool, str]:
    if audited and not exists(root):
        return True, f"{LOG}: is missing, though the audit log names it; edits by hand cannot be seen"
    if is_begun(root):
        return True, f"{LOG}: the audit log does not name its beginning; the audit log was cut or made anew"
    return False, f"{LOG}: content is checked from the next command on"


def _of_log(root: Path, name: str, marks: Sequence[ContentMark]) -> Iterator[tuple[bool, str]]:
    salt = marks[0].sha256
    wanted = {one.line: one.sha256 for one in marks if one.log == name and one.line}
    raw = _raw_lines(root / name)
    if wanted and not (root / name).exists():
        yield True, f"{name}: is missing"
        return
    for number, line in enumerate(raw, start=1):
        if number in wanted:
            if _hashed(salt, line) != wanted[number]:
                yield True, f"{name}, line {number}: is not what was written there"
        elif number < len(raw) or line in raw[:-1]:
            yield True, f"{name}, line {number}: was not written by this tool"
        else:
            yield False, f"{name}, line {number}: a crash came before it was noted in the content log"
    for number in sorted(one for one in wanted if one > len(raw)):
        yield True, f"{name}, line {number}: is missing"


def _of_manifest(root: Path, name: str, sha256: str, salt: str) -> Iterator[tuple[bool, str]]:
    if not (root / name).exists():
        if sha256 != GONE:
            yield True, f"{name}: the manifest of an import is missing"
    elif sha256 == GONE:
        if _is_newest(root, name):
            yield False, f"{name}: a crash came before the import was noted in the content log"
        else:
            yield True, f"{name}: the manifest was not written by this tool"
    elif _hashed(salt, (root / name).read_bytes()) != sha256:
        yield True, f"{name}: the manifest was changed after it was written"


def _of_subjects(root: Path, hashes: Sequence[str], salt: str) -> Iterator[tuple[bool, str]]:
    path = root / SUBJECTS
    now = _hashed(salt, path.read_bytes()) if path.exists() else GONE
    if now == hashes[-1]:
        return
    if now == _before(hashes):
        yield False, f"{SUBJECTS}: a crash came before it was written again"
    else:
        yield True, f"{SUBJECTS}: the tokens of athletes are not those that were written"


def _settings_changed(root: Path, marks: Sequence[ContentMark]) -> Iterator[tuple[bool, str]]:
    for name in SETTINGS:
        now, last = _of_settings(root, name, marks[0].sha256), None
        for one in marks:
            last = one if one.log == name else last
        if now.sha256 != (last.sha256 if last else GONE):
            before = f" ({last.said} before, {now.said} now)" if last and last.said != now.said else ""
            yield False, f"{name}: was changed since the last command that wrote something{before}"


def _of_settings(root: Path, name: str, salt: str) -> ContentMark:
    path = root / name
    sha256 = _hashed(salt, path.read_bytes()) if path.exists() else GONE
    text = ""
    if name == SETTINGS[0]:
        try:
            clock = load_program(root).clock
            text = f"clock {clock}" if clock else "no clock"
        except (LatewoodError, UnicodeDecodeError):
            text = "cannot be read"
    return ContentMark(log=name, line=0, sha256=sha256, said=text)


def _as_it_is(root: Path, salt: str) -> Iterator[ContentMark]:
    for name in _logs(root):
        for number, line in enumerate(_raw_lines(root / name), start=1):
            yield ContentMark(log=name, line=number, sha256=_hashed(salt, line))
    # Tokens twice: a file that stood there before is not one whose first writing a crash cut short.
    for name in (*_manifests(root), *((SUBJECTS, SUBJECTS) if (root / SUBJECTS).exists() else ())):
        yield ContentMark(log=name, line=0, sha256=_hashed(salt, (root / name).read_bytes()))
    yield from (_of_settings(root, name, salt) for name in SETTINGS if (root / name).exists())


def _logs(root: Path) -> list[str]:
    return sorted(p.relative_to(root).as_posix() for pattern in LOGS for p in root.glob(pattern))


def _manifests(root: Path) -> list[str]:
    return sorted(p.relative_to(root).as_posix() for p in root.glob(MANIFESTS))


def _is_newest(root: Path, name: str) -> bool:
    """Whether a manifest is that of the import which landed last."""
    places = {one: _place_of(root / one) for one in _manifests(root)}
    return places[name] == max(places.values()) and list(places.values()).count(places[name]) == 1


def _place_of(path: Path) -> int:
    try:
        return int(json.loads(path.read_bytes())["sequence"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return -1


def _whole_files(marks: Sequence[ContentMark]) -> dict[str, list[str]]:
    result: dict[str, list[str]] = {}
    for one in marks:
        if not one.line and one.log not in {BEGIN, BEGUN, *SETTINGS}:
            result.setdefault(one.log, []).append(one.sha256)
    return result


def _raw_lines(path: Path) -> list[bytes]:
    return whole_bytes(path).split(b"\n")[:-1]


def _hashed(salt: str, raw: bytes) -> str:
    return hashlib.sha256(f"{salt}\n".encode() + raw).hexdigest()


def _chained(mark: ContentMark, before: str) -> ContentMark:
    body = json.dumps([before, mark.log, mark.line, mark.sha256, mark.said], ensure_ascii=False)
    chain = hashlib.sha256(body.encode()).hexdigest()
    return ContentMark(log=mark.log, line=mark.line, sha256=mark.sha256, said=mark.said, chain=chain)


def _text(mark: ContentMark) -> str:
    return json.dumps(asdict(mark), ensure_ascii=False, sort_keys=True) + "\n"


def _names(log: str) -> bytes:
    return f'"log": {json.dumps(log, ensure_ascii=False)},'.encode()


def _add(root: Path, mark: ContentMark) -> None:
    """Chain a mark to the last one, and write the head; where that cannot be written the mark goes again."""
    number, chain = _end(root)
    if _read_head(root) != (number, chain):
        # A crash came between the two writes; a second one must not make them two apart.
        _write_head(root, number, chain)
    made, size = _chained(mark, chain), len(whole_bytes(root / LOG))
    durable.append_lines(root / LOG, _text(made).encode())
    try:
        _write_head(root, number + 1, made.chain)
    except StorageError:
        durable.cut_back(root / LOG, size)
        raise


def _end(root: Path) -> tuple[int, str]:
    """How many marks there are and the end of the chain. Raises AuditError where the head names another."""
    texts = _raw_lines(root / LOG)
    last, number = _mark(texts[-1], len(texts)), len(texts)
    head = _read_head(root)
    if head != (number, last.chain) and head[0] != number - 1:
        raise AuditError(
            f"{LOG}: does not end where content.head says; see `latewood check`, restore both from a backup"
        )
    return number, last.chain


def _write_head(root: Path, number: int, chain: str) -> None:
    durable.write_atomically(root / HEAD, f"{number} {chain}\n".encode())


def _read(root: Path) -> list[ContentMark]:
    return [_mark(text, number) for number, text in enumerate(_raw_lines(root / LOG), start=1)]


def _mark(text: bytes, number: int) -> ContentMark:
    try:
        result = ContentMark(**json.loads(text))
        texts = (result.log, result.sha256, result.said, result.chain)
        if type(result.line) is not int or not all(isinstance(one, str) for one in texts):
            raise TypeError("a field is of another kind than was written")
    except (ValueError, TypeError, RecursionError) as error:
        raise AuditError(
            f"{LOG}, line {number}: cannot be read ({error}); restore it from a backup"
        ) from error
    return result


def _salt(root: Path) -> str:
    with (root / LOG).open("rb") as stream:
        return _mark(stream.readline(), 1).sha256


def _last_mark(root: Path, log: str) -> ContentMark | None:
    """The last mark of a log; found by its text, since a log of years is not read line by line for each value."""
    full = whole_bytes(root / LOG)
    at = full.rfind(_names(log))
    if at < 0:
        return None
    start, end = full.rfind(b"\n", 0, at) + 1, full.find(b"\n", at)
    return _mark(full[start:end], full.count(b"\n", 0, end) + 1)


def _last_line(root: Path, log: str) -> int:
    last = _last_mark(root, log)
    return last.line if last else 0


def _read_head(root: Path) -> tuple[int, str]:
    path = root / HEAD
    text = path.read_text(encoding="utf-8", errors="replace") if path.exists() else ""
    number, _, chain = text.strip().partition(" ")
    return (int(number), chain) if number.isascii() and number.isdigit() and len(number) < 20 else (0, "")


def _chain_problems(root: Path) -> Iterator[str]:
    before = earlier = _FIRST
    texts = _raw_lines(root / LOG)
    for number, text in enumerate(texts, start=1):
        try:
            mark = _mark(text, number)
        except AuditError as error:
            yield str(error).rpartition("; ")[0]
            return
        if _chained(mark, before).chain != mark.chain:
            yield f"{LOG}, line {number}: was edited, or does not follow the line before it"
            return
        before, earlier = mark.chain, before
    head = _read_head(root)
    if head not in {(len(texts), before), (len(texts) - 1, earlier)}:
        yield f"{HEAD}: does not name the end of content.jsonl, line {len(texts)}; one of the two was changed or cut"
