"""What actions that were killed leave half-written: it may hold everything, so it is told by `check` and deleted.

A part that somebody who lives is still writing is left alone. Parts of a restore stand beside the data folder; an
archive may be written anywhere, so a backup notes in the data folder where its part is before there is one.
"""

from __future__ import annotations

import json
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from latewood.pipeline import durable
from latewood.pipeline.errors import BusyError
from latewood.pipeline.ingest.files import landing

FOLDER: Final = ".unfinished"
_YOUNG: Final = 60.0  # seconds between a backup's note and its part


@dataclass(frozen=True, slots=True, kw_only=True)
class Leftover:
    """One part of a killed action, and the note that led to it where there is one."""

    action: str
    path: Path
    note: Path | None = None


def find(root: Path) -> tuple[Leftover, ...]:
    """Every part in and beside a data folder, and of its backups, that nobody is writing any more."""
    return tuple(
        one
        for one in (*_of_restores(root), *_of_backups(root), *_of_files(root))
        if one.note is not None or durable.abandoned(one.path)
    )


def sweep(root: Path) -> tuple[Leftover, ...]:
    """Delete what `find` finds, and return it; what cannot be deleted stays, and `check` goes on telling it."""
    gone = []
    for one in find(root):
        with suppress(OSError):
            if one.path.is_dir():
                shutil.rmtree(one.path)
            else:
                one.path.unlink(missing_ok=True)
            if one.note is not None:
                one.note.unlink(missing_ok=True)
            gone.append(one)
    with suppress(OSError):
        (root / FOLDER).rmdir()
    return tuple(gone)


@contextmanager
def noted_backup(root: Path, part: Path) -> Iterator[None]:
    """Keep a note of where the part of a backup is, for as long as the backup runs."""
    note = root / FOLDER / f"{part.name.removesuffix(durable.UNFINISHED).rpartition('.')[2]}.json"
    durable.write_atomically(note, json.dumps({"part": str(part.absolute())}).encode(), mode=0o600)
    try:
        yield
    finally:
        with suppress(OSError):
            note.unlink(missing_ok=True)
            note.parent.rmdir()


def _of_restores(root: Path) -> Iterator[Leftover]:
    for path in sorted(root.parent.glob(f".{_plain(root.name[-80:])}.*{durable.UNFINISHED}")):
        if path.is_dir():
            yield Leftover(action="restore", path=path)


def _of_backups(root: Path) -> Iterator[Leftover]:
    for note in sorted((root / FOLDER).glob("*.json")):
        try:
            part = Path(json.loads(note.read_text(encoding="utf-8"))["part"])
            waits = not part.exists() and time.time() - note.stat().st_mtime < _YOUNG
        except (OSError, ValueError, KeyError, TypeError):
            continue
        named = part.name.startswith(".") and part.name.endswith(durable.UNFINISHED)
        if named and not waits and (not part.exists() or durable.abandoned(part)):
            yield Leftover(action="backup", path=part, note=note)


def _of_files(root: Path) -> Iterator[Leftover]:
    for path in sorted(root.rglob(f".*{durable.UNFINISHED}")):
        if path.is_file():
            yield Leftover(action="writing of a file", path=path)


def sweep_arrivals(root: Path) -> None:
    """Delete the half-landed files of killed imports, unless somebody is importing now."""
    with suppress(BusyError), durable.locked(root / "landing" / ".lock", wait=0.0):
        landing.sweep(root / "landing")


def _plain(name: str) -> str:
    """A name with what `glob` takes for a pattern set in brackets."""
    return "".join(f"[{c}]" if c in "*?[" else c for c in name)
