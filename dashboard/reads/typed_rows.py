"""What typed weigh-ins make of trends and plans until a build holds them, laid over its rows; nothing is written.

Worked out once for each state of the entries and for all; `Read` bounds the rows to the viewer afterwards.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from threading import Lock
from typing import Any, Final, TypeVar

import streamlit as st

from latewood.dashboard.reads.reading import READER
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.logs.entered import late_files
from latewood.pipeline.ingest.plans.typed_mass import NOTHING, TypedMass, typed_mass
from latewood.pipeline.ingest.program import data_dir, load_program
from latewood.pipeline.stats import results
from latewood.pipeline.stats.plans.rules import PlanSettings

Row = TypeVar("Row")
# What a provisional row takes the place of: everything of its stay, or of its plan.
PLACE: Final[Mapping[type, str]] = {
    results.MassTrend: "stay_id", results.WeighinUse: "stay_id", results.PlanState: "stay_id",
    results.PlanReview: "plan_id", results.PlanAdvice: "plan_id",
}  # fmt: skip


@dataclass(slots=True)
class ShownBefore:
    """What was shown before the build that is published now, by data folder, to be held against that build."""

    build_id: str = ""
    now: TypedMass = NOTHING
    before: TypedMass = NOTHING


_SHOWN: dict[str, ShownBefore] = {}
_LOCK = Lock()


def over_published(
    full: tuple[Row, ...], row: type[Row], typed: TypedMass, parameters: Mapping[str, str]
) -> tuple[Row, ...]:
    """The rows of a build, those of the stays and plans concerned replaced by provisional ones in their place."""
    own = [one for one in _rows_of(typed, row) if all(getattr(one, k) == v for k, v in parameters.items())]
    if not own:
        return full
    name = PLACE[row]
    by_key: dict[str, list[Row]] = {}
    for one in own:
        by_key.setdefault(getattr(one, name), []).append(one)
    return tuple(_replaced(full, name, by_key))


def _replaced(full: tuple[Row, ...], name: str, by_key: dict[str, list[Row]]) -> Iterator[Row]:
    waiting = dict(by_key)
    for one in full:
        key = getattr(one, name)
        if key not in by_key:
            yield one
        elif key in waiting:
            yield from waiting.pop(key)
    for rest in waiting.values():
        yield from rest


def _rows_of(typed: TypedMass, row: type) -> tuple[Any, ...]:
    rows = typed.rows
    made: Mapping[type, tuple[Any, ...]] = {
        results.MassTrend: rows.mass, results.WeighinUse: rows.weighins, results.PlanState: rows.states,
        results.PlanReview: rows.reviews, results.PlanAdvice: typed.advice,
    }  # fmt: skip
    return made[row]


def typed_since(build_id: str) -> TypedMass:
    """What is typed and not in a build, for all viewers; nothing where the entries cannot be read."""
    folder = data_dir()
    try:
        program = load_program(folder)
        limits = (program.ceiling_percent, program.plan_percent, program.refer_percent)
        state = _entries_state(folder, program.today())
        result = _worked_out(str(folder), build_id, state, limits) if state else NOTHING
    except LatewoodError:
        return NOTHING
    _note(str(folder), build_id, result)
    return result


def shown_before(build_id: str) -> TypedMass:
    """What this server showed provisionally right before the build; nothing where it showed none."""
    typed_since(build_id)
    return _SHOWN[str(data_dir())].before if str(data_dir()) in _SHOWN else NOTHING


def _note(folder: str, build_id: str, result: TypedMass) -> None:
    with _LOCK:
        shown = _SHOWN.setdefault(folder, ShownBefore(build_id=build_id))
        if shown.build_id != build_id:
            shown.before, shown.build_id = shown.now, build_id
        shown.now = result


def _entries_state(folder: Path, today: date) -> tuple[tuple[str, int, int], ...]:
    """Name, size and time of writing of the files that may hold something new."""
    result = []
    for path in late_files(folder, today):
        try:
            found = path.stat()
        except OSError:
            continue
        result.append((path.name, found.st_size, found.st_mtime_ns))
    return tuple(result)


@st.cache_resource(max_entries=8, show_spinner=False)
def _worked_out(
    folder: str, build_id: str, state: tuple[tuple[str, int, int], ...], limits: tuple[float, float, float]
) -> TypedMass:
    """Whole, for all; `build_id` and `state` are what it holds for."""
    ceiling, plan, refer = limits
    settings = PlanSettings(ceiling_percent=ceiling, plan_percent=plan, refer_percent=refer)
    with READER.cursor(Path(folder)) as cursor:
        return typed_mass(Path(folder), cursor, settings)
