"""Results of one measure into which others enter, kept by measure: an answer refits only the measures that it touched.

A step sees the sessions of its measure, those of the measures that enter, and the frames that are named, and nothing
else; all of these are hashed, so a kept result is the one that would be made anew.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import Any

import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.warehouse.guarded import Guard
from latewood.pipeline.warehouse.memo import Memo

Measures = Mapping[str, Measure]
Tables = Sequence[Sequence[Any]]
Make = Callable[[Measures, pd.DataFrame], Tables]
ENTERS = "enters"  # the family of a measure that enters a fit and is not fitted itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Linked:
    """What a build has: the sessions of all measures and of each, the catalogue's measures, memo and guard."""

    memo: Memo
    guard: Guard
    sessions: pd.DataFrame
    parts: Mapping[str, pd.DataFrame]
    measures: Measures


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A step in words, its tables (class and name in the memo), the measures it is for, and those that enter.

    `frames` are all further frames that go into it.
    """

    words: str
    tables: tuple[tuple[type, str], ...]
    applies: Callable[[Measure], bool]
    enter: tuple[str, ...] = ()
    frames: tuple[pd.DataFrame, ...] = ()


def by_measure_kept(
    record: Linked, step: Step, make: Make, own: Callable[[str], Sequence[object]] = lambda _: ()
) -> list[tuple[Any, ...]]:
    """The tables of a step over all measures it is for, in order of their keys.

    `own` gives the results of other steps that go into a measure's. One without an answer is left out with a note.
    """
    gathered: list[tuple[Any, ...]] = [() for _ in step.tables]
    for key, part in record.parts.items():
        if key not in record.measures or not step.applies(record.measures[key]):
            continue
        entering = {k: record.parts[k] for k in step.enter if k in record.parts and k != key}
        whole = cache(partial(_made, record, key, tuple(entering), make))
        inputs = (key, part, *entering.values(), *step.frames, *own(key))
        kept = partial(_kept, record.memo, step, inputs, whole)
        nothing: Tables = [() for _ in step.tables]
        tables = record.guard.one(step.words, key, kept, nothing)
        gathered = [have + tuple(more) for have, more in zip(gathered, tables, strict=True)]
    return gathered


def fitted_of(measures: Measures) -> Measures:
    """The measures without those that only enter."""
    return {key: measure for key, measure in measures.items() if measure.family != ENTERS}


def _made(record: Linked, key: str, entering: Sequence[str], make: Make) -> Tables:
    measures = {k: replace(record.measures[k], family=ENTERS) for k in entering if k in record.measures}
    seen = record.sessions.loc[record.sessions["measure"].isin((key, *entering))].reset_index(drop=True)
    return make({**measures, key: record.measures[key]}, seen)


def _kept(memo: Memo, step: Step, inputs: Sequence[object], whole: Callable[[], Tables]) -> Tables:
    return [
        memo.results(kind, name, inputs, partial(_table, whole, n))
        for n, (kind, name) in enumerate(step.tables)
    ]


def _table(whole: Callable[[], Tables], n: int) -> Sequence[Any]:
    return whole()[n]
