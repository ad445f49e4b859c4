"""A value typed as at a screen by somebody who says yes to the question about it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from latewood.pipeline.errors import EntryDoubtError
from latewood.pipeline.ingest.logs.entered import TypedEntry, enter


def type_in(root: Path, **given: Any) -> TypedEntry:
    try:
        return enter(root, **given)
    except EntryDoubtError as doubt:
        return enter(root, **given, confirmed=doubt.question)
