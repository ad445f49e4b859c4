"""Takes an athlete's name out of the mappings that were saved, whose names come from those of files."""

from __future__ import annotations

from pathlib import Path

from latewood.pipeline import durable
from latewood.pipeline.care.erase_files import in_toml
from latewood.pipeline.care.erase_sought import ERASED, Sought
from latewood.pipeline.ingest.look.write import PROPOSED
from latewood.pipeline.steps import reached


def forget_mappings(root: Path, what: Sought) -> int:
    """Take the name out of every saved mapping, and return of how many.

    One that a look proposed goes altogether: written anew it would read the file as it first came as one not seen
    before, and bring it back; the next look proposes it again. One written by hand loses the name alone.
    """
    folder, changed = root / "mappings", 0
    for path in sorted(folder.glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        if not what.found_in_file(text) and not what.found(path.name):
            continue
        if not text.startswith(PROPOSED):
            made = in_toml(text, what)
            if not what.found(path.name):
                durable.write_atomically(path, made.encode())
                changed += 1
                continue
            durable.write_atomically(_free(folder, made), made.encode())
            reached("a mapping under another name")
        path.unlink()
        changed += 1
        reached("a mapping without the name")
    if changed:
        durable.force_folder(folder)
    return changed


def _free(folder: Path, text: str) -> Path:
    """A name that nobody is named by: free, or of the same mapping where an erasure was stopped after writing it."""
    path, n = folder / f"{ERASED}.toml", 1
    while path.exists() and path.read_text(encoding="utf-8") != text:
        n += 1
        path = folder / f"{ERASED}_{n}.toml"
    return path
