"""What every command does first with a data folder: finish a killed erasure, delete what killed actions left."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import typer
from rich.console import Console

from latewood.pipeline.errors import BusyError, LatewoodError
from latewood.pipeline.ingest.logs import erasing, leftovers
from latewood.pipeline.ingest.program import data_dir

# `check` changes nothing; the others see to it themselves.
_NOT_FIRST = frozenset({"check", "erase", "restore"})


def tidied(context: typer.Context, given: Path | None) -> Path | None:
    """The data folder as it was given, after it was tidied; what could not be done is told and stops no command."""
    if not context.resilient_parsing and context.info_name not in _NOT_FIRST:
        for line in tidy(data_dir(given)):
            Console(stderr=True, highlight=False, soft_wrap=True).print(f"latewood: {line}", markup=False)
    return given


def tidy(root: Path) -> list[str]:
    """Finish and delete what killed actions left in a data folder, and say in words what was done."""
    there = {one.path for one in leftovers.find(root) if one.path.exists()}
    reported = [_words(one) for one in leftovers.sweep(root) if one.path in there]
    if not root.exists():
        return reported
    leftovers.sweep_arrivals(root)
    try:
        with suppress(BusyError):  # somebody is at it just now
            if _finished(root):
                reported.append("an erasure that was stopped is finished now")
    except LatewoodError as error:
        reported.append(f"{error} (until then `{erasing.COMMAND}` waits)")
    return reported


def _finished(root: Path) -> bool:
    """Whether there was a killed erasure to finish. Raises as `care.erase.finish` does."""
    with erasing.alone(root, 0.0):
        if erasing.unfinished(root) is None:
            erasing.sweep(root)
            return False
    # brought in here: it loads the build, for which no command waits that has nothing to finish
    from latewood.pipeline.care.erase import finish

    return finish(root, wait=0.0) is not None


def _words(one: leftovers.Leftover) -> str:
    return f"what a killed {one.action} left was deleted: {one.path.name}"
