"""What the second process of a large build runs: files from the last to the first, then the fits asked for last.

`python -m latewood.pipeline.ingest.build.beside FOLDER`, started by `warehouse/ahead.py`; all it makes goes into the
memo. Where something is wrong it ends, and the build, which meets the same, says what.
"""

from __future__ import annotations

import os
import pickle
import sys
import threading
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.build.stage import files_read, read_cells
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.warehouse.ahead import Ahead
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


def _listen(stream: BinaryIO, arrived: threading.Event, work: list[Ahead]) -> None:
    """Take what goes into the fits when it comes; then wait until the build's process closes the pipe, or is killed."""
    with suppress(EOFError, pickle.UnpicklingError):  # it ended before it had anything to fit, or amid it
        work.append(pickle.load(stream))
        arrived.set()
        stream.read(1)
    os._exit(0)


def main(root: Path) -> None:
    """Work ahead, for as long as the process that started this one lives."""
    arrived, work = threading.Event(), list[Ahead]()
    threading.Thread(target=_listen, args=(sys.stdin.buffer, arrived, work), daemon=True).start()
    with plain_texts():
        with suppress(LatewoodError, OSError):  # the build says what is wrong
            read_files(root, arrived)
        arrived.wait()
        fit_ahead(work[0])


if __name__ == "__main__":
    main(Path(sys.argv[1]))
