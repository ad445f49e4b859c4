"""How a step hands over the parts of its work that an earlier run may have done already, without knowing where."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

import pandas as pd

Result = TypeVar("Result")


class Keeper(Protocol):
    """Gives what `make` would give from the same inputs: made now, or kept from an earlier run.

    `inputs` are frames and plain values, and everything that goes into the result apart from code and catalogue.
    """

    def results(
        self, kind: type[Result], step: str, inputs: Sequence[object], make: Callable[[], Sequence[Result]]
    ) -> Sequence[Result]:
        """Frozen results of one class."""
        ...

    def frame(self, step: str, inputs: Sequence[object], make: Callable[[], pd.DataFrame]) -> pd.DataFrame:
        """A frame, whose index counts its rows."""
        ...


class MadeAnew:
    """The keeper that keeps nothing."""

    def results(
        self, kind: type[Result], step: str, inputs: Sequence[object], make: Callable[[], Sequence[Result]]
    ) -> Sequence[Result]:
        """What `make` gives."""
        return make()

    def frame(self, step: str, inputs: Sequence[object], make: Callable[[], pd.DataFrame]) -> pd.DataFrame:
        """What `make` gives."""
        return make().reset_index(drop=True)
