"""Times a run of summaries: `python -m tests.bench.summaries DATA [N]` on a copy of a built data folder."""

from __future__ import annotations

import os
import resource
import shutil
import sys
import tempfile
import time
from dataclasses import dataclass
from itertools import cycle, islice
from pathlib import Path

from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.pages.recruit.issue import Issued, issue, open_run, write_files

FORMS = ("pdf", "html", "json")


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """Sheets made of so many athletes, and the seconds from opening the run to the last file: clock, and CPU."""

    sheets: int
    athletes: int
    clock: float
    cpu: float

    @property
    def cpu_ms(self) -> float:
        """CPU milliseconds a sheet."""
        return 1000.0 * self.cpu / self.sheets


def measure_sheets(source: Path, wanted: int, forms: tuple[str, ...] = FORMS) -> Printed:
    """Issue so many pages for the athletes whose consent stands, over and over, in a copy of a data folder."""
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        root = Path(scratch) / "data"
        shutil.copytree(source, root)
        ready = [athlete for athlete, why in consent_book.refusals(root).items() if not why]
        began, cpu, made = time.monotonic(), time.process_time(), 0
        for result in issue(open_run(root, "bench", forms=forms), list(islice(cycle(ready), wanted))):
            if isinstance(result, Issued):
                made += 1
                write_files(Path(scratch) / "out", result)
        return Printed(
            sheets=made, athletes=len(ready), clock=time.monotonic() - began, cpu=time.process_time() - cpu
        )


def main() -> None:
    """Print what N pages (300) in three forms took."""
    made = measure_sheets(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 300)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    sys.stdout.write(
        f"{made.sheets} summaries (PDF, HTML, JSON) of {made.athletes} athletes: {made.clock:.1f} s by the clock, "
        f"{made.cpu:.1f} s of processor, peak {peak:.0f} MB, {os.cpu_count()} cores (one is used), "
        f"load {os.getloadavg()[0]:.1f}\n"
    )


if __name__ == "__main__":
    main()
