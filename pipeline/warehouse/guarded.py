"""The one place where an estimate may fail: it is left out and noted, and the build goes on with all others.

Only arithmetic that has no answer is caught here (a singular matrix, a division by zero, a root of a negative
number, our own refusal). Anything else is an error of the program and stops the build.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.errors import NotComputedError
from latewood.pipeline.stats.change.results import NotComputed

NUMERICAL: Final = (np.linalg.LinAlgError, ArithmeticError, NotComputedError)
SHARED: Final = (
    handles.BODY_MASS,
    handles.STANDING_HEIGHT,
    handles.TRAP_BAR_DEADLIFT,
)  # enter other measures too
COULD_NOT: Final = "could not be computed: {}"

Measures = Mapping[str, Measure]
Table = Sequence[Any] | pd.DataFrame
Answer = TypeVar("Answer")


@dataclass(slots=True)
class Guard:
    """Runs the steps of one build; `noted` holds what could not be computed."""

    noted: list[NotComputed] = field(default_factory=list)

    def one(self, step: str, measure: str, make: Callable[[], Answer], otherwise: Answer) -> Answer:
        """What `make` gives, or `otherwise` with a note where the arithmetic has no answer."""
        try:
            return _computed(make)
        except NUMERICAL as error:
            self.noted.append(
                NotComputed(step=step, measure=measure, reason=COULD_NOT.format(_in_words(error)))
            )
            return otherwise

    def tables(
        self,
        step: str,
        keys: Iterable[str],
        measures: Measures,
        make: Callable[[Measures], Sequence[Table]],
    ) -> Sequence[Table]:
        """The tables of a step over all measures; where that fails, of each measure of `keys` by itself.

        Every row of the tables names its measure.
        """
        try:
            return _computed(lambda: make(measures))
        except NUMERICAL:
            parts = [self.one(step, key, lambda key=key: _alone(make, measures, key), None) for key in keys]  # type: ignore[misc]
        return [_joined(tables) for tables in zip(*(part for part in parts if part is not None), strict=True)]

    def failed(self, step: str) -> set[str]:
        """The measures of a step that were left out."""
        return {one.measure for one in self.noted if one.step == step}


def _computed(make: Callable[[], Answer]) -> Answer:
    """The answer; a number that is none raises where it arises, not where somebody reads it."""
    with np.errstate(invalid="raise", divide="raise"):
        return make()


def _alone(make: Callable[[Measures], Sequence[Table]], measures: Measures, key: str) -> Sequence[Table]:
    made = make({k: m for k, m in measures.items() if k == key or k in SHARED})
    return [_of(table, key) for table in made]


def _of(table: Table, key: str) -> Table:
    if isinstance(table, pd.DataFrame):
        return table.loc[table["measure"] == key] if len(table) else table
    return tuple(row for row in table if row.measure == key)


def _joined(tables: Sequence[Table]) -> Table:
    frames = [table for table in tables if isinstance(table, pd.DataFrame)]
    if frames:
        filled = [frame for frame in frames if len(frame)]
        return pd.concat(filled, ignore_index=True) if filled else frames[0]
    return tuple(row for table in tables for row in table)


def _in_words(error: Exception) -> str:
    if isinstance(error, NotComputedError):
        return str(error)
    return f"the numbers allow no answer ({str(error).strip().lower() or type(error).__name__})"
