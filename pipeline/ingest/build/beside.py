"""What the second process of a large build runs: files from the last to the first, then the fits asked for last.

`python -m latewood.pipeline.ingest.build.beside FOLDER`, started by `warehouse/ahead.py`; all it makes goes into the
memo. Where something is wrong it ends, and the build, which meets the same, says what.
"""

from __future__ import annotations

import os
import pickle
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.build.stage import files_read, read_cells
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.warehouse.memo import memo_of
from latewood.pipeline.warehouse.packed import plain_texts
from latewood.pipeline.warehouse.results import fit_ahead


def read_files(root: Path, stopped: threading.Event) -> None:
    """Read the files of a data folder into the memo, the last first, until the build is past them."""
    inputs = read_inputs(root)
    memo = memo_of(root, inputs.code_version, inputs.catalogue.digest)
    for manifest in reversed(files_read(inputs)):
        if stopped.is_set():
            return
        read_cells(root / "landing", manifest, inputs, memo)


@dataclass(frozen=True, slots=True)
class _Arrives:
    """What the build gives, and whether it is there."""

    there: threading.Event = field(default_factory=threading.Event)
    given: list[Any] = field(default_factory=list)

    def wait(self) -> Any:  # noqa: ANN401  what was pickled
        self.there.wait()
        return self.given[0]


def _listen(stream: BinaryIO, arrive: Sequence[_Arrives]) -> None:
    """Take what goes into the fits when it comes; then wait until the build's process closes the pipe, or is killed."""
    with suppress(EOFError, pickle.UnpicklingError):  # it ended before it had anything to fit, or amid it
        for one in arrive:
            one.given.append(pickle.load(stream))
            one.there.set()
        stream.read(1)
    os._exit(0)


def main(root: Path) -> None:
    """Work ahead, for as long as the process that started this one lives."""
    ahead, weighed = _Arrives(), _Arrives()
    threading.Thread(target=_listen, args=(sys.stdin.buffer, (ahead, weighed)), daemon=True).start()
    with plain_texts():
        with suppress(LatewoodError, OSError):  # the build says what is wrong
            read_files(root, ahead.there)
        fit_ahead(ahead.wait(), weighed.wait)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
