"""What was typed on a screen, as the table a build reads: our own columns, and the line each row stands on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

import pandas as pd

from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.logs import planlog
from latewood.pipeline.ingest.logs.entered import TypedEntry, standing_lines

_READINGS: Final = ("athlete", "measured_on", "measure", "value", "unit", "trial")
_PLANS: Final = (
    *("plan_id", "version", "athlete", "start_on", "start_mass", "target_on", "target_mass", "unit"),
    *("ended_on", "purpose", "made_by", "approved_by", "reason", "start_answer"),
)


def entered_table(root: Path, manifest: landing.Manifest) -> TextTable:
    """The rows of typed entries, in our own columns, with the line each stands on."""
    content = (root / manifest.stored_as).read_bytes()[: manifest.size]
    if landing.file_hash(content) != manifest.sha256:
        raise DecisionError(
            f"{manifest.stored_as}: changed other than by adding lines; restore it from a backup"
        )
    if manifest.kind == "plans":
        made = [(n, event.facts) for n, event in planlog.numbered(content) if event.kind == planlog.VERSION]
        rows = [(n, {key: str(facts.get(key) or "") for key in _PLANS}) for n, facts in made]
        return _table(rows, _PLANS)
    standing = standing_lines(content, manifest.stored_as)
    rows = [(n, {**entry.conditions, **_texts(entry)}) for n, entry in standing]
    conditions = sorted({key for _, entry in standing for key in entry.conditions})
    return _table(rows, (*_READINGS, *conditions))


def _texts(entry: TypedEntry) -> dict[str, str]:
    return {
        "athlete": entry.athlete_id, "measured_on": entry.measured_on, "measure": entry.measure,
        "value": entry.value, "unit": entry.unit, "trial": str(entry.trial),
    }  # fmt: skip


def _table(rows: Sequence[tuple[int, Mapping[str, str]]], columns: Sequence[str]) -> TextTable:
    frame = pd.DataFrame([row for _, row in rows], columns=list(columns), dtype="str").fillna("")
    return TextTable(frame=frame, lines=[number for number, _ in rows])
