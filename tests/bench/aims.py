"""The table of aims of rows and traces: a folder's rows checked beside a bare scan, and so many lines of traces.

Run as `python -m tests.bench.aims DIR 1000000` on a folder of `tests.bench.stages --make`.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import duckdb

from tests.bench.checked import check_rows
from tests.bench.traces import measure_traces


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """One line of the table of aims: what was measured, and the goal, both in one unit; less is better, or more."""

    what: str
    measured: float
    goal: float
    unit: str
    more: bool = False

    @property
    def is_met(self) -> bool:
        """Whether the goal is reached."""
        return self.measured >= self.goal if self.more else self.measured <= self.goal


def measure_aims(scan: float, root: Path, lines: int) -> list[Aim]:
    """Rows of a folder read, checked and stored beside the `scan` of its file, and so many lines of traces."""
    rows = check_rows(root)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    traced = measure_traces(lines)
    size = f"{rows.taken:,} readings"
    return [
        Aim(what=f"{size} read, checked, stored, CPU", measured=rows.cpu / scan, goal=10, unit="bare scans (CPU)"),
        Aim(what="the same, peak memory", measured=peak, goal=1, unit="GB"),
        Aim(what=f"{traced.lines:,} lines of raw traces, landed and stored", measured=traced.rate, goal=1e6,
            unit="lines a CPU second", more=True),
    ]  # fmt: skip


def aim_lines(aims: list[Aim], load: float) -> list[str]:
    """The table of aims in docs/benchmarks.md."""
    return [
        "## Rows and traces, without models",
        "",
        f"Load average before: {load:.1f}.",
        "",
        "| aim | today | goal | |",
        "|---|---|---|---|",
        *(
            f"| {a.what} | {a.measured:,.{0 if a.measured >= 100 else 1}f} {a.unit} | {a.goal:,.0f} "
            f"| {'met' if a.is_met else 'not met'} |"
            for a in aims
        ),
        "",
    ]


def timed_scan(path: Path) -> float:
    """CPU seconds in which DuckDB reads a CSV into a table and averages it by measure."""
    began = time.process_time()
    with duckdb.connect() as connection:
        connection.execute("create table scanned as select * from read_csv(?)", [str(path)])
        connection.execute("select measure, count(*), avg(value) from scanned group by measure").fetchall()
    return time.process_time() - began


if __name__ == "__main__":
    folder, load_before = Path(sys.argv[1]), os.getloadavg()[0]
    (largest,) = sorted((folder / "landing").glob("*/readings.csv"))
    print("\n".join(aim_lines(measure_aims(timed_scan(largest), folder, int(sys.argv[2])), load_before)))  # noqa: T201  a report
