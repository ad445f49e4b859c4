"""Times a run of summaries: `python -m tests.bench.summaries DATA [N]` on a copy of a built data folder."""

from __future__ import annotations

import os
import resource
import shutil
import sys
import tempfile
import time
from itertools import cycle, islice
from pathlib import Path

from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.pages.recruit.issue import Issued, issue, open_run, write_files


def main() -> None:
    """Issue N pages (300) in three forms for the athletes whose consent stands, over and over; print what it took."""
    source, wanted = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 300
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        root = Path(scratch) / "data"
        shutil.copytree(source, root)
        began, cpu = time.monotonic(), time.process_time()
        ready = [athlete for athlete, why in consent_book.refusals(root).items() if not why]
        made = 0
        for result in issue(
            open_run(root, "bench", forms=("pdf", "html", "json")), list(islice(cycle(ready), wanted))
        ):
            if isinstance(result, Issued):
                made += 1
                write_files(Path(scratch) / "out", result)
        took = time.monotonic() - began, time.process_time() - cpu
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    sys.stdout.write(
        f"{made} summaries (PDF, HTML, JSON) of {len(ready)} athletes: {took[0]:.1f} s by the clock, {took[1]:.1f} s "
        f"of processor, peak {peak:.0f} MB, {os.cpu_count()} cores (one is used), load {os.getloadavg()[0]:.1f}\n"
    )


if __name__ == "__main__":
    main()
