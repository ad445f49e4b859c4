"""What the table of aims measures, each in a process of its own: `python -m tests.bench.speed_parts rows DIR`."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median
from typing import Any

import duckdb
import numpy as np
from websockets.sync.client import connect
from websockets.typing import Subprotocol

from latewood.pipeline.cli.demo import SEED_DATA
from latewood.pipeline.ingest.program import FOLLOWS
from latewood.pipeline.warehouse.connection import open_published
from tests.bench import fast, folders
from tests.bench.checked import check_rows
from tests.bench.fits import fit_sessions, measure_fit
from tests.bench.summaries import measure_sheets
from tests.bench.traces import measure_traces
from tests.tools.load import crowd, open_screen, targets_of
from tests.tools.shots import answered, free_port

FITTED = "body_mass"  # in both folders; lines whose rates do not spread end statsmodels' search too early
WARM = 40  # stays of a fit beforehand, so that no library is loaded in the one that counts
REPEATS = 5
ALONE, TEN = 60.0, 90.0
_SESSIONS = """
select stay_id as stay, weeks as t, is_intake::double as i, value as y from session_value
where measure = $measure and stay_id is not null and weeks is not null and line = (
  select line from session_value where measure = $measure group by line order by count(*) desc, line limit 1)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """What one command took: seconds by the clock, CPU of it and its processes, the memory of the largest of them."""

    clock: float
    cpu: float
    peak_gigabytes: float
    code: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pages:
    """Seconds of a server's first page, with its start too, and the 95th of 100 changes of one person and of ten."""

    first: float
    started: float
    alone: float
    alone_n: int
    ten: float
    ten_n: int


def landed(root: Path, readings: int | None) -> Path:
    """A folder of the demo (None) or of so many invented readings, landed and never built."""
    asked("land", str(root), str(readings or 0))
    return root


def command(*words: str, may_fail: bool = False) -> Ran:
    """Run `latewood` with these words. Raises RuntimeError where it fails and may not."""
    return _run([_latewood(), *words], may_fail=may_fail)


def _latewood() -> str:
    return str(Path(sys.executable).with_name("latewood"))


def _run(words: list[str], *, may_fail: bool) -> Ran:
    with tempfile.TemporaryFile("w+") as told:
        began = time.monotonic()
        child = subprocess.Popen(words, stdout=told, stderr=told)
        _, status, used = os.wait4(child.pid, 0)
        clock, code = time.monotonic() - began, os.waitstatus_to_exitcode(status)
        child.returncode = code
        told.seek(0)
        lines = told.read().strip().splitlines()
    if code and not may_fail:
        raise RuntimeError(f"{' '.join(words)}: {lines[-1:]}")
    return Ran(
        clock=clock, cpu=used.ru_utime + used.ru_stime, peak_gigabytes=used.ru_maxrss / 1e6, code=code,
        words=lines[-1] if lines else "",
    )  # fmt: skip


def median_of(*words: str) -> Ran:
    """The run of the middle one of some, after one that warms the machine's files."""
    ran = sorted((command(*words) for _ in range(REPEATS + 1)), key=lambda one: one.clock)
    return ran[len(ran) // 2 - 1]


def asked(what: str, *words: str) -> dict[str, Any]:
    """What a process of its own measured; raises CalledProcessError where it fails."""
    program = [sys.executable, "-m", "tests.bench.speed_parts", what, *words]
    run = subprocess.run(program, check=True, stdout=subprocess.PIPE, text=True)
    result: dict[str, Any] = json.loads(run.stdout)
    return result


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """CPU seconds of a bare scan."""

    cpu: float


def bare_scan(root: Path) -> Scan:
    """DuckDB reads the readings of a built folder from one CSV into a table and averages them by measure."""
    return Scan(**asked("scan", str(root)))


def type_weighin(root: Path) -> None:
    """Type one weigh-in that the next build takes."""
    asked("type", str(root))


def measure_pages(root: Path) -> Pages:
    """Page changes of one person and of ten on a server of their own, over the screens' protocol."""
    targets = targets_of(root, np.random.default_rng(1))
    began = time.monotonic()
    with _served(root) as address:
        url = address.replace("http://", "ws://") + "/_stcore/stream"
        with connect(url, max_size=None, subprotocols=[Subprotocol("streamlit")]) as line:
            first = open_screen(line, "", "").seconds
        started = time.monotonic() - began
        crowd(address, targets, ALONE / 2, 0.0, people=1)  # each screen's first run is told apart
        alone = [one.seconds for one in crowd(address, targets, ALONE, 1.0, people=1)]
        ten = [one.seconds for one in crowd(address, targets, TEN, 10.0)]
    return Pages(
        first=first, started=started, alone=float(np.quantile(alone, 0.95)), alone_n=len(alone),
        ten=float(np.quantile(ten, 0.95)), ten_n=len(ten),
    )  # fmt: skip


@contextmanager
def _served(root: Path) -> Iterator[str]:
    """The address of `latewood serve` on a data folder; no build follows what is typed."""
    port = free_port()
    words = [_latewood(), "serve", "--port", str(port), "--data", str(root)]
    server = subprocess.Popen(words, env={**os.environ, FOLLOWS: "0"}, stdout=subprocess.DEVNULL)
    try:
        answered(f"http://127.0.0.1:{port}/_stcore/health")
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(timeout=20)


def _scan(root: Path) -> dict[str, float]:
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        file = str(Path(scratch) / "rows.csv")
        with closing(open_published(root)) as built:
            columns = "athlete_id, measured_on, measure, value, raw_unit, trial"
            built.execute(f"copy (select {columns} from reading) to '{file}' (header)")
        seconds = []
        for _ in range(REPEATS):
            began = time.process_time()
            with duckdb.connect() as connection:
                connection.execute("create table scanned as select * from read_csv(?)", [file])
                connection.execute(
                    "select measure, count(*), avg(value) from scanned group by measure"
                ).fetchall()
            seconds.append(time.process_time() - began)
    return {"cpu": median(seconds)}


def _fit_folder(root: Path) -> dict[str, Any]:
    with closing(open_published(root)) as built:
        table = built.execute(_SESSIONS, {"measure": FITTED}).df()
    fit_sessions(table[table["stay"].isin(table["stay"].unique()[:WARM])])
    return asdict(fit_sessions(table))


def _traces(lines: int) -> dict[str, Any]:
    found = measure_traces(lines)
    return {**asdict(found), "rate": found.rate}


def _sheets(root: Path, wanted: int) -> dict[str, float]:
    measure_sheets(root, 2)  # fonts and libraries are loaded once
    return {
        "cpu_ms": measure_sheets(root, wanted).cpu_ms,
        "pdf_ms": measure_sheets(root, wanted, ("pdf",)).cpu_ms,
    }


def _land(root: Path, readings: int) -> dict[str, float]:
    if readings:
        folders.land_folder(root, readings)
    else:
        folders.land_demo(root, SEED_DATA)
    return {}


def _type(root: Path) -> dict[str, float]:
    fast.type_one(root)
    return {}


if __name__ == "__main__":
    what, words = sys.argv[1], sys.argv[2:]
    found: dict[str, Any] = {}
    match what:
        case "land":
            found = _land(Path(words[0]), int(words[1]))
        case "scan":
            found = _scan(Path(words[0]))
        case "rows":
            found = asdict(check_rows(Path(words[0])))
        case "fast":
            found = asdict(fast.measure_fast(Path(words[0])))
        case "type":
            found = _type(Path(words[0]))
        case "fit":
            measure_fit(WARM)
            found = asdict(measure_fit(int(words[0])))
        case "fit_folder":
            found = _fit_folder(Path(words[0]))
        case "traces":
            found = _traces(int(words[0]))
        case "sheets":
            found = _sheets(Path(words[0]), int(words[1]))
        case _:
            raise SystemExit(f"{what}: not known")
    sys.stdout.write(json.dumps(found))
