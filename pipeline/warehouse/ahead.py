"""A second process that fits ahead what a large build asks for last; both find each other's results in the memo.

The camps, the forms to project with and the past projections need nothing but session values and stays, and take about
as long as all other results together. What the other process did not get to, or could not fit, the build fits itself:
the results are the same with and without it. It ends with the build, however the build ends.
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
from typing import BinaryIO, Final

import pandas as pd
from threadpoolctl import threadpool_limits

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.warehouse.guarded import Guard
from latewood.pipeline.warehouse.memo import Memo
from latewood.pipeline.warehouse.packed import plain_texts
from latewood.pipeline.warehouse.separate import by_measure, separate_camps, separate_choices, separate_past

FEWEST_SESSIONS: Final = 3000  # session values from which a second process saves more than its start costs


@dataclass(frozen=True, kw_only=True)
class Ahead:
    """What the other process is given: where results are kept, and all that goes into them."""

    memo: Memo
    sessions: pd.DataFrame
    stays: pd.DataFrame
    measures: Mapping[str, Measure]


@contextmanager
def fitting_ahead(ahead: Ahead) -> Iterator[subprocess.Popen[bytes] | None]:
    """While the block runs, another process fits ahead into the memo; there is none for a small or a fresh build."""
    if not _pays(ahead):
        yield None
        return
    command = [sys.executable, "-m", __spec__.name]
    other = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    giving = threading.Thread(target=_give, args=(other, ahead), daemon=True)
    try:
        giving.start()
        yield other
    finally:
        other.kill()
        giving.join()
        with suppress(OSError):  # what was not read is lost with its reader
            other.communicate()


def _pays(ahead: Ahead) -> bool:
    kept = ahead.memo.folder is not None and ahead.memo.reads
    return kept and len(ahead.sessions) >= FEWEST_SESSIONS and (os.cpu_count() or 1) > 1


def _give(other: subprocess.Popen[bytes], ahead: Ahead) -> None:
    """Hand over what goes in; the pipe stays open, so that the other process sees this one end."""
    if other.stdin is not None:
        with suppress(OSError):  # it was ended before it had read all
            pickle.dump(_plain(ahead), other.stdin)
            other.stdin.flush()


def _plain(ahead: Ahead) -> Ahead:
    """The same without what cannot be handed over: a view of a mapping, and the frames hashed so far."""
    memo = Memo(folder=ahead.memo.folder, salt=ahead.memo.salt)
    return replace(ahead, memo=memo, measures=dict(ahead.measures))


def fit(ahead: Ahead) -> None:
    """Fit into the memo, what is asked for last first."""
    parts, guard = by_measure(ahead.sessions), Guard()
    given = ahead.memo, guard, parts, ahead.stays, ahead.measures
    with threadpool_limits(limits=1), plain_texts():
        separate_past(*given)
        separate_camps(*given)
        separate_choices(*given)


def _end_with(stream: BinaryIO, end: Callable[[], None]) -> None:
    stream.read(1)  # waits until the build's process closes it, or is killed
    end()


def main() -> None:
    """Read what goes in from the build's process and fit it, for as long as that process lives."""
    ahead = pickle.load(sys.stdin.buffer)
    threading.Thread(target=_end_with, args=(sys.stdin.buffer, lambda: os._exit(0)), daemon=True).start()
    fit(ahead)


if __name__ == "__main__":
    main()
