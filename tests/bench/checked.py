"""A build up to the stored rows, without models: what the benches of reading, checking and storing measure."""

from __future__ import annotations

import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from latewood.pipeline.ingest.build.run import fill_rows
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.warehouse.connection import open_new
from latewood.pipeline.warehouse.memo import Memo, memo_of
from latewood.pipeline.warehouse.results import BuildUnderWay


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """Values taken and held, and the seconds of reading, checking and storing them: CPU, and by the clock."""

    taken: int
    held: int
    cpu: float
    clock: float


def check_rows(root: Path, *, memo: bool = False) -> Checked:
    """Read, check and store what was landed in a folder, into a new file that is thrown away.

    With `memo` what the landing kept of traces is found, as a build finds it; else every file is read again.
    """
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        cpu, clock = time.process_time(), time.monotonic()
        inputs = read_inputs(root)
        with open_new(Path(scratch) / "rows.duckdb") as connection:
            build = BuildUnderWay(
                connection=connection,
                build_id="bench",
                progress=lambda _: None,
                memo=memo_of(root, inputs.code_version, inputs.catalogue.digest) if memo else Memo(),
            )
            fill_rows(build, root, inputs, inputs.imports)
            connection.execute("checkpoint")
            seconds = time.process_time() - cpu, time.monotonic() - clock
            counts = connection.execute(
                "select (select count(*) from reading), (select count(*) from held_row)"
            )
            taken, held = counts.fetchone() or (0, 0)
    return Checked(taken=taken, held=held, cpu=seconds[0], clock=seconds[1])
