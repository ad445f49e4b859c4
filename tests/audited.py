"""What people did, from the audit log: without the line that says from when on content is checked."""

from __future__ import annotations

from pathlib import Path

from latewood.pipeline.ingest.logs import audit


def logged_actions(root: Path) -> tuple[audit.AuditLine, ...]:
    return tuple(line for line in audit.lines(root) if line.event != audit.BEGIN)
