"""A value typed as at a screen by somebody who says yes to the question about it."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from latewood.pipeline.errors import EntryDoubtError
from latewood.pipeline.ingest.logs.entered import TypedEntry, enter
from latewood.pipeline.ingest.logs.typed_check import TypedValue


def typed_value(*, value: str, measured_on: date, **given: Any) -> TypedValue:
    conditions = tuple(given.pop("conditions", {}).items())
    return TypedValue(text=value, on=measured_on, conditions=conditions, **given)


def type_in(root: Path, *, by: str, trial: int = 1, **given: Any) -> TypedEntry:
    typed = typed_value(**given)
    try:
        return enter(root, typed, by, trial=trial)
    except EntryDoubtError as doubt:
        return enter(root, typed, by, trial=trial, confirmed=doubt.question)
