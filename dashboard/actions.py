"""What the Data screen does to the program: one function per deed, each ending in a line of text."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from dashboard.rows import Build
from dashboard.wording import count_of
from pipeline.ingest import actions
from pipeline.ingest.build import build, read_inputs
from pipeline.ingest.program import data_dir


def take_files(files: Sequence[tuple[str, bytes]], who: str) -> list[str]:
    """Import uploaded files (name and content) without building; what became of each, as text.

    Raises FileUnreadableError or MappingError, and then nothing was kept.
    """
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for name, content in files:
            path = Path(folder) / Path(name).name
            path.write_bytes(content)
            paths.append(path)
        found = actions.import_files(data_dir(), paths, who, build_after=False)
    return [
        f"{one.file_name}: {one.kind}, {count_of(one.rows_in, 'row')}, {one.state}. {' '.join(one.notes)}"
        for one in found
    ]


def answer(targets: Sequence[str], action: str, who: str, why: str, athlete_id: str | None) -> None:
    """Write a decision down without building; raises DecisionError."""
    actions.decide(data_dir(), list(targets), action, who, why, athlete_id, build_after=False)


def correct(held_id: str, value: str, who: str, why: str) -> None:
    """Write down the right value of one held row without building; raises DecisionError."""
    actions.decide(data_dir(), [held_id], "mend", who, why, value=value, build_after=False)


def take_out(import_id: str, who: str, why: str) -> None:
    """Withdraw an import without building; raises DecisionError."""
    actions.withdraw(data_dir(), import_id, who, why, build_after=False)


def rebuild(progress: Callable[[str], None]) -> str:
    """Build and publish; what came of it, as text. Raises LatewoodError, and then the old build stays."""
    done = build(data_dir(), progress)
    if done.unchanged:
        return "Nothing had changed: the published build is up to date."
    counts = f"{count_of(done.readings, 'reading')} of {count_of(done.athletes, 'athlete')}"
    return f"Published {counts} in {done.seconds:.0f} s."


def is_behind(published: Build | None) -> bool:
    """Whether files, decisions or settings have changed since the published build."""
    inputs = read_inputs(data_dir())
    if published is None:
        return bool(inputs.imports)
    return inputs.build_id != published.build_id
