"""How builds ended, one line each in the warehouse folder: a failed one leaves no warehouse that could tell."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

import duckdb

from latewood.pipeline.errors import LatewoodError, StorageError
from latewood.pipeline.ingest.logs.lines import append_line, read_lines, whole_bytes
from latewood.pipeline.ingest.program import Program, load_program

LOG: Final = "builds.jsonl"
FAILED, DONE = "failed", "done"
REASON_LENGTH: Final = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class FailedBuild:
    """A build that published nothing: when, at the program's place, and why."""

    at: datetime
    reason: str


@contextmanager
def noted(root: Path) -> Iterator[None]:
    """Write down how the build inside ends, and let its error go on."""
    try:
        yield
    except (LatewoodError, duckdb.Error, OSError) as error:
        _note(root, FAILED, str(error))
        raise
    _note(root, DONE, "")


def failed_builds(root: Path) -> tuple[FailedBuild, ...]:
    """The failed builds since the last one that ended well, the latest last. Raises LandingError."""
    open_: list[FailedBuild] = []
    for _, record in read_lines(whole_bytes(_path(root)), LOG):
        if record.get("outcome") == DONE:
            open_ = []
        else:
            at, reason = datetime.fromisoformat(str(record["at"])), str(record.get("reason", ""))
            open_.append(FailedBuild(at=at, reason=reason))
    return tuple(open_)


def forget(root: Path) -> None:
    """Remove the log: a reason may name an athlete's file, and what failed before a good build is settled."""
    _path(root).unlink(missing_ok=True)


def _path(root: Path) -> Path:
    return root / "warehouse" / LOG


def _note(root: Path, outcome: str, reason: str) -> None:
    """Add a line; a disk that takes none must not hide the build's own error, nor undo what it published."""
    try:
        program = load_program(root)
    except (LatewoodError, OSError):
        program = Program()  # a wrong program.toml is itself a reason why builds fail
    record = {"at": program.now().isoformat(), "outcome": outcome, "reason": reason[:REASON_LENGTH]}
    with suppress(OSError, StorageError):
        append_line(_path(root), record)
