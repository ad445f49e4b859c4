"""What `check` says of actions that were killed: an erasure that is not finished, parts that hold people's data."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from latewood.pipeline.errors import BusyError
from latewood.pipeline.ingest.logs import erasing, leftovers

LEFT_TO_THE_NEXT: Final = "the next command deletes it"


def unfinished(root: Path) -> Iterator[tuple[bool, str, str]]:
    """For each: whether it is wrong, what it is, and the fix."""
    if (root / erasing.FOLDER).exists():
        yield _erasure(root)
    for one in leftovers.find(root):
        if not one.path.exists():  # only the note is left: the archive got its name
            continue
        where = one.path.relative_to(root) if one.path.is_relative_to(root) else one.path
        yield (
            True,
            f"a killed {one.action} left {where}, which may hold people's data",
            LEFT_TO_THE_NEXT,
        )


def _erasure(root: Path) -> tuple[bool, str, str]:
    try:
        with erasing.alone(root, wait=0.0):
            journal = erasing.unfinished(root)
    except BusyError:
        return False, "an erasure is running", "wait until it is done"
    if journal is None:
        return True, "the journal of an erasure was left behind", f"run `{erasing.COMMAND}`"
    last = journal.done[-1] if journal.done else "nothing yet"
    return True, f"an erasure is not finished (last step done: {last})", f"run `{erasing.COMMAND}`"
