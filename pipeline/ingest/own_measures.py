"""Adds a measure of the program's own to its measures.toml: whole and checked, or not at all."""

from __future__ import annotations

from pathlib import Path

from latewood.pipeline import durable
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.catalogue.own import ORIGIN, Draft, with_entry
from latewood.pipeline.ingest.logs import audit, content
from latewood.pipeline.ingest.program import program_catalogue

LOCK = ".measures.lock"


def add_measure(root: Path, draft: Draft, who: str) -> None:
    """Write the draft at the end of measures.toml and log who did it; entries that are there are never changed.

    Raises CatalogueError naming all that is wrong in the draft, or in the file as it is; then nothing is written.
    """
    path = root / ORIGIN
    with durable.locked(root / LOCK):
        before = path.read_text(encoding="utf-8") if path.exists() else ""
        after = with_entry(before, draft, program_catalogue(root))
        load_catalogue(after, ORIGIN)
        audit.ready(root)
        audit.append(root, "decision", who, {"action": "own measure", "measure": draft.key})
        durable.write_atomically(path, after.encode())
        with content.held(root):
            content.mark_settings(root)
