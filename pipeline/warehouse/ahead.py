"""A second process that works ahead of a large build; both find each other's results in the memo.

It begins with the build and does what the build asks for last, first: of the files, then of the fits
(`ingest/build/beside.py` is what it runs). What it did not get to, or could not fit, the build does itself: the results
are the same with and without it. It ends with the build, however the build ends.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from queue import SimpleQueue
from typing import Any, Final

import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.stats.plans.weighin import MassFit
from latewood.pipeline.warehouse import packed
from latewood.pipeline.warehouse.memo import Memo

FEWEST_BYTES: Final = (
    500_000  # of files of readings, from which a second process saves more than its start costs
)
MODULE: Final = "latewood.pipeline.ingest.build.beside"
Other = subprocess.Popen[bytes]


@dataclass(frozen=True, kw_only=True)
class Ahead:
    """All that goes into the fits without body mass, and where results are kept."""

    memo: Memo
    sessions: pd.DataFrame
    people: pd.DataFrame
    stays: pd.DataFrame
    measures: Mapping[str, Measure]


@dataclass(frozen=True, kw_only=True)
class Weighed:
    """What goes into the other fits, once body mass is fitted and it is known which plans are in force."""

    fit: MassFit
    plans: pd.DataFrame
    settings: PlanSettings


Give = Callable[[Weighed], None]


@contextmanager
def working_ahead(root: Path, memo: Memo, size: int) -> Iterator[Other | None]:
    """While the block runs, another process works ahead into the memo; there is none for a small or a fresh build.

    `size` are the bytes of the files of readings in the data folder `root`.
    """
    if memo.folder is None or not memo.reads or size < FEWEST_BYTES or (os.cpu_count() or 1) < 2:
        yield None
        return
    command = [sys.executable, "-m", MODULE, str(root)]
    other = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        yield other
    finally:
        other.kill()
        with suppress(OSError):  # what was not read is lost with its reader
            other.communicate()


@contextmanager
def fitting_ahead(ahead: Ahead, other: Other | None) -> Iterator[Give]:
    """While the block runs, the other process has what goes into the fits; the block gives the rest when it is known.

    Where there is no other process, nothing is given.
    """
    if other is None:
        yield lambda _: None
        return
    known = SimpleQueue[Ahead | Weighed | None]()
    known.put(_plain(ahead))
    giving = threading.Thread(target=_give, args=(other, known), daemon=True)
    giving.start()
    try:
        yield known.put
    finally:
        other.kill()  # what it has not read yet, nobody will ask for
        known.put(None)
        giving.join()


def _give(other: Other, known: SimpleQueue[Ahead | Weighed | None]) -> None:
    """Hand over what goes in; the pipe stays open, so that the other process sees this one end."""
    if other.stdin is not None:
        with suppress(OSError):  # it was ended before it had read all
            while (one := known.get()) is not None:
                _Pickler(other.stdin).dump(one)
                other.stdin.flush()


class _Pickler(pickle.Pickler):
    """Hands frames over as packed columns: millions of texts one by one would keep the build waiting."""

    def reducer_override(self, thing: object) -> Any:  # noqa: ANN401  as pickle names it
        """How a frame without an index of its own is made again; all else goes as ever."""
        if isinstance(thing, pd.DataFrame) and thing.index.equals(pd.RangeIndex(len(thing))):
            return packed.to_frame, (packed.of_frame(thing),)
        return NotImplemented


def _plain(ahead: Ahead) -> Ahead:
    """The same without what cannot be handed over: a view of a mapping, and the frames hashed so far."""
    memo = Memo(folder=ahead.memo.folder, salt=ahead.memo.salt)
    return replace(ahead, memo=memo, measures=dict(ahead.measures))
