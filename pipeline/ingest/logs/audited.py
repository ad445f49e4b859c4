"""Adds a record to a log of decisions together with its line of the audit log: both stand, or neither."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from latewood.pipeline.ingest.logs import audit


def append_audited(
    root: Path, path: Path, record: Mapping[str, Any], who: str, details: audit.Details
) -> None:
    """Write the record down, then log it; the caller holds the lock of `path`.

    Raises the error of whichever cannot be written; then the record is not there either: what is not in the audit
    log was not decided.
    """
    audit.add_line(root, path, record, ("decision", who, details))


def note_late(root: Path, key: str, who: str, details: audit.Details) -> None:
    """Log the last record now where a crash came between writing it down and logging it; `key` names it in a line."""
    if all(line.details.get(key) != details[key] for line in audit.lines(root)):
        audit.append(root, "decision", who, {**details, "late": True})
