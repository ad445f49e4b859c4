"""The register of issued pages: hashes, dates and states, each line signed and chained to the one before.

It names nobody: an athlete is the token of the audit log. What was printed is kept beside it under the page's hash,
so that a check can say which words differ; erasing an athlete deletes those, and the register stays whole.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from latewood.pipeline import durable
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.pages.keys import Signer, signed_by

STATES = ("issued", "withdrawn", "superseded")
FIRST = "0" * 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line: a page issued (`files` holds the hash of every form of it), or its later state."""

    number: int
    at: str
    state: str
    page_hash: str
    subject: str
    valid_until: str
    build_id: str
    files: Mapping[str, str]
    why: str
    before: str
    signature: str = ""

    def body(self) -> str:
        """What is signed."""
        fields = {k: v for k, v in asdict(self).items() if k != "signature"}
        return json.dumps(fields, sort_keys=True, ensure_ascii=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """The register as read, with what is wrong with it."""

    entries: Sequence[Entry]
    problems: tuple[str, ...]

    def issue(self, page_hash: str) -> Entry | None:
        """The line by which a page was issued."""
        return next((e for e in self.entries if e.page_hash == page_hash and e.state == "issued"), None)

    def by_file(self, sha256: str) -> Entry | None:
        """The line by which a file of exactly these bytes was issued."""
        return next((e for e in self.entries if e.state == "issued" and sha256 in e.files.values()), None)

    def last(self, page_hash: str) -> Entry | None:
        """The latest line of a page: the one that tells its state."""
        return next((e for e in reversed(self.entries) if e.page_hash == page_hash), None)

    def in_force(self) -> tuple[Entry, ...]:
        """The issues that nothing has withdrawn or replaced since."""
        latest = {e.page_hash: e for e in self.entries}
        return tuple(e for e in latest.values() if e.state == "issued")


def read(root: Path, public_key: str | None) -> Register:
    """Return the register of a data folder, every line checked against the program's key and the line before."""
    path = root / "landing" / "register.jsonl"
    entries: list[Entry] = []
    problems: list[str] = []
    before = FIRST
    full, _, _ = path.read_bytes().rpartition(b"\n") if path.exists() else (b"", b"", b"")
    for number, line in enumerate(full.split(b"\n") if full else (), start=1):
        try:
            entry = Entry(**json.loads(line))
        except (ValueError, TypeError) as error:
            problems.append(f"line {number}: cannot be read ({error})")
            continue
        if public_key is None or not signed_by(public_key, entry.body(), entry.signature):
            problems.append(f"line {number}: is not signed by this program")
            continue
        if entry.before != before or entry.number != number:
            problems.append(f"line {number}: does not follow the line before it")
        before = _hash(entry)
        entries.append(entry)
    return Register(entries=entries, problems=tuple(problems))


def add(root: Path, key: Signer, lines: Sequence[Mapping[str, Any]], at: str) -> tuple[Entry, ...]:
    """Add lines (all fields of Entry but number, at, before and signature) and wait until they are on the disk.

    Raises SummaryError where the register is not as it was written: nothing is added to it then.
    """
    path = root / "landing" / "register.jsonl"
    with durable.locked(path.parent / ".register.lock"):
        known = read(root, key.public_text)
        if known.problems:
            raise SummaryError(f"landing/register.jsonl, {known.problems[0]}; restore it from a backup")
        before = _hash(known.entries[-1]) if known.entries else FIRST
        made: list[Entry] = []
        for number, line in enumerate(lines, start=len(known.entries) + 1):
            bare = Entry(number=number, at=at, before=before, **line)
            entry = Entry(**{**asdict(bare), "signature": key.sign(bare.body())})
            before = _hash(entry)
            made.append(entry)
        _write(path, made)
    return tuple(made)


@dataclass(frozen=True, slots=True, kw_only=True)
class PageState:
    """What became of an issued page: one of STATES, since when (an instant), and why."""

    state: str
    why: str
    at: str


def mark(root: Path, key: Signer, entries: Sequence[Entry], now: PageState) -> None:
    """Write that issued pages are withdrawn or superseded, and why."""
    if now.state not in STATES[1:]:
        raise SummaryError(f"state {now.state!r} is not one of {', '.join(STATES[1:])}")
    kept = ("page_hash", "subject", "valid_until", "build_id", "files")
    lines = [{**{k: getattr(e, k) for k in kept}, "state": now.state, "why": now.why} for e in entries]
    add(root, key, lines, now.at)


def keep_printed(root: Path, page_hash: str, data: Mapping[str, Any]) -> None:
    """Keep what was printed on a page, for checks, until its athlete is erased."""
    path = _printed(root, page_hash)
    durable.write_atomically(path, (json.dumps(data, ensure_ascii=False, sort_keys=True) + "\n").encode())


def printed(root: Path, page_hash: str) -> dict[str, Any] | None:
    """What was printed on a page, or None where it is not kept any more."""
    path = _printed(root, page_hash)
    return dict(json.loads(path.read_text(encoding="utf-8"))) if path.exists() else None


def forget_printed(root: Path, page_hash: str) -> None:
    """Delete what was printed on a page."""
    _printed(root, page_hash).unlink(missing_ok=True)


def _printed(root: Path, page_hash: str) -> Path:
    if len(page_hash) != 64 or not set(page_hash) <= set("0123456789abcdef"):
        raise SummaryError("a page is named by the 64 hexadecimal digits of its hash")
    return root / "landing" / "issued" / f"{page_hash}.json"


def _hash(entry: Entry) -> str:
    return hashlib.sha256(f"{entry.body()}\n{entry.signature}".encode()).hexdigest()


def _write(path: Path, entries: Sequence[Entry]) -> None:
    text = "".join(json.dumps(asdict(e), ensure_ascii=False, sort_keys=True) + "\n" for e in entries)
    durable.append_lines(path, text.encode())
