"""The journal of an erasure that is not finished: whose, which rows, which steps are done; gone with the last step.

It is the one place where the name may stand while the erasure runs. It lies in a folder of its own, closed to
others, which no backup takes.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Final

from latewood.pipeline import durable
from latewood.pipeline.errors import SummaryError

FOLDER: Final = ".erasing"
LOCK: Final = ".erasing.lock"
COMMAND: Final = "latewood erase --finish"


@dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """Everything that an erasure needs to go on after it was killed.

    `rows` maps an import id to lines, `pieces` to lines of which some columns are theirs (first and last, from 1);
    `texts` maps the SHA-256 of a landed file, or the name of a log, to the texts there that were decided to be theirs.
    """

    athlete_id: str
    who: str
    token: str
    audit_lines: int  # of the audit log when it began
    names: tuple[str, ...]
    also: tuple[str, ...]  # keys of what was decided to be theirs; they name nobody
    rows: Mapping[str, tuple[int, ...]]
    texts: Mapping[str, tuple[str, ...]]
    files: tuple[str, ...]  # hashes of the landed files that are written anew
    edits: int = 0  # found in logs and files by then; the erasure would hide them
    done: tuple[str, ...] = ()
    joined: Mapping[str, str] = field(default_factory=dict)  # their other ids, each with its token
    counts: Mapping[str, int] = field(default_factory=dict)
    pieces: Mapping[str, tuple[tuple[int, int, int], ...]] = field(default_factory=dict)

    @property
    def ids(self) -> tuple[str, ...]:
        """Every id of theirs."""
        return (self.athlete_id, *self.joined)

    @property
    def tokens(self) -> tuple[str, ...]:
        """The token of each id."""
        return (self.token, *self.joined.values())


def unfinished(root: Path) -> Journal | None:
    """The journal of an erasure that is not finished, or None. Raises SummaryError where it cannot be read."""
    path = _path(root)
    if not path.exists():
        return None
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
        listed = {k: tuple(raw[k]) for k in ("names", "also", "files", "done")}
        pairs = {k: {name: tuple(v) for name, v in raw[k].items()} for k in ("rows", "texts")}
        pieces = {name: tuple(map(tuple, v)) for name, v in raw.get("pieces", {}).items()}
        return Journal(**{**raw, **listed, **pairs, "pieces": pieces})
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise SummaryError(
            f"{FOLDER}/{path.name}: cannot be read ({error}); delete it and erase the athlete again"
        ) from error


def keep(root: Path, journal: Journal) -> Journal:
    """Write the journal down, whole and forced to the disk, and return it."""
    (root / FOLDER).mkdir(mode=0o700, exist_ok=True)
    durable.write_atomically(
        _path(root), json.dumps(asdict(journal), ensure_ascii=False).encode(), mode=0o600
    )
    return journal


def note_done(root: Path, journal: Journal, step: str, counts: Mapping[str, int]) -> Journal:
    """Write down that a step is done, with what it counted."""
    return keep(root, replace(journal, done=(*journal.done, step), counts={**journal.counts, **counts}))


def close(root: Path) -> None:
    """Delete the journal with the name in it: the erasure is finished."""
    _path(root).unlink(missing_ok=True)
    durable.force_folder(root / FOLDER)
    shutil.rmtree(root / FOLDER)


def sweep(root: Path) -> None:
    """Delete what a kill left of a journal that was never begun or is closed; the lock is held."""
    if (root / FOLDER).exists() and not _path(root).exists():
        shutil.rmtree(root / FOLDER)


@contextmanager
def alone(root: Path, wait: float = 60.0) -> Iterator[None]:
    """Let one process at a time erase. Raises BusyError."""
    with durable.locked(root / LOCK, wait):
        yield


def _path(root: Path) -> Path:
    return root / FOLDER / "journal.json"
