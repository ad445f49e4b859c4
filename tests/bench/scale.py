"""Measures the sums per stay and the fits on DuckDB and Spark (local), and writes the table into docs/scale.md.

Run as `python -m tests.bench.scale`; numbers of trials may be given as arguments. Without pyspark and Java
only DuckDB is measured, and the table says so.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Final

import duckdb
import numpy as np
import pandas as pd

from latewood.pipeline.warehouse.spark_engine import java_path, spark_engine
from latewood.pipeline.warehouse.stay_sums import Engine, line_fits, stay_sums
from latewood.pipeline.warehouse.trial_files import PARTITIONS, duck_engine

SIZES: Final = (100_000, 1_000_000, 10_000_000)
CAMPS: Final = 10
LINES: Final = 4
SESSIONS: Final = 12
TRIALS: Final = 3
PAGE: Final = Path("docs/scale.md")
MARKS: Final = ("<!-- measured: begin -->", "<!-- measured: end -->")


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Seconds, processor seconds and memory in GB (None where unknown), and counts of one engine at one size."""

    engine: str
    trials: int
    megabytes: float
    start: float
    sums: float
    rows: int
    fits: float
    cpu: float | None  # of start and sums; other work on the machine does not lengthen it
    gigabytes: float | None
    rate: float  # of the first line, to compare engines by


def write_trials(folder: Path, trials: int) -> None:
    """Write about so many invented trials, in parts by camp and month."""
    folder.mkdir()
    athletes = max(2, trials // (CAMPS * LINES * SESSIONS * TRIALS))
    for camp in range(CAMPS):
        rng = np.random.default_rng([20330502, trials, camp])
        with duckdb.connect() as connection:
            connection.from_df(_camp(rng, f"C{camp:03d}", athletes)).write_parquet(
                str(folder),
                partition_by=list(PARTITIONS),
                compression="zstd",
                append=True,
            )


def _camp(rng: np.random.Generator, camp: str, athletes: int) -> pd.DataFrame:
    shape = (LINES, athletes, SESSIONS, TRIALS)
    week = np.arange(SESSIONS) * 0.9
    level = rng.normal(76.0, 4.0, shape[:2])[:, :, None]
    rate = rng.normal(0.4, 0.15, shape[:2])[:, :, None]
    session = level + rate * week - 0.8 * (week == 0.0) + rng.normal(0.0, 1.0, shape[:3])
    value = session[..., None] + rng.normal(0.0, 0.5, shape)
    line, athlete, place, _ = (index.ravel() for index in np.indices(shape))
    day = 23_132 + np.round(week * 7.0).astype("int32")[place]
    months = pd.to_datetime(np.arange(day.min(), day.max() + 1), unit="D", origin="unix").strftime("%Y-%m")
    stays = np.array([f"B{k:06d}@{camp}" for k in range(athletes)])
    return pd.DataFrame({
        "camp_id": camp, "month": months.to_numpy()[day - day.min()], "measure": "exit_speed",
        "line": np.array([f"tee {k}" for k in range(LINES)])[line], "stay_id": stays[athlete], "day": day,
        "weeks": week[place], "is_intake": place == 0, "summary": "median", "keep": 0, "better": "higher",
        "value": value.ravel(),
    })  # fmt: skip


def measure(engine: str, folder: Path, trials: int) -> Measured:
    """Measure one engine over a folder in this process."""
    began, worked = time.monotonic(), time.process_time()
    with _engine(engine, str(folder)) as opened:
        ready = time.monotonic()
        sums = stay_sums(opened)
        added = time.monotonic()
        cpu, gigabytes = _used(opened, time.process_time() - worked)
    closed = time.monotonic()
    fits = line_fits(sums)
    fitted = time.monotonic()
    return Measured(
        engine=engine,
        trials=trials,
        megabytes=sum(p.stat().st_size for p in folder.rglob("*.parquet")) / 1e6,
        start=ready - began,
        sums=added - ready,
        rows=len(sums),
        fits=fitted - closed,
        cpu=cpu,
        gigabytes=gigabytes,
        rate=fits[0].rate,
    )


@contextmanager
def _engine(engine: str, folder: str) -> Iterator[Engine]:
    if engine == "spark":
        with spark_engine(folder, "local[2]") as spark:
            yield spark
    else:
        with duck_engine(folder) as duck:
            yield duck


def _used(engine: Engine, own: float) -> tuple[float | None, float | None]:
    """Processor seconds and peak memory: of this process, with Spark's Java process where the system tells it."""
    session = getattr(engine, "session", None)
    if session is None:
        return own, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    process = Path("/proc") / str(session.sparkContext._gateway.proc.pid)
    try:
        status, stat = ((process / name).read_text(encoding="utf-8") for name in ("status", "stat"))
    except OSError:
        return None, None
    peak = next(
        (float(line.split()[1]) / 1e6 for line in status.splitlines() if line.startswith("VmHWM")), None
    )
    ticks = stat.rpartition(")")[2].split()[11:13]
    return own + sum(map(int, ticks)) / os.sysconf("SC_CLK_TCK"), peak


def table(found: list[Measured], load: float) -> str:
    """The measured part of the page."""
    rows = [
        f"| {m.engine} | {m.trials:,} | {m.megabytes:,.1f} | {m.start:.1f} | {m.sums:.1f} | {_sentence(m.cpu)} | "
        f"{m.rows:,} | {m.fits:.1f} | {_sentence(m.gigabytes)} |"
        for m in found
    ]
    without = "" if any(m.engine == "spark" for m in found) else " Spark was not there and is not measured."
    return "\n".join([
        f"Measured by `python -m tests.bench.scale` on {os.cpu_count()} cores ({platform.machine()}, Python "
        f"{platform.python_version()}, DuckDB {duckdb.__version__}{_spark_version()}), load average of the machine "
        f"before the first run {load:.1f}; other work on it makes the times longer.{without}",
        "",
        "| engine | trials | Parquet MB | start s | sums s | processor s | sums per stay | all fits s | peak GB |",
        "|---|---|---|---|---|---|---|---|---|",
        *rows,
    ])  # fmt: skip


def _sentence(value: float | None) -> str:
    return "unknown" if value is None else f"{value:.2f}"


def _spark_version() -> str:
    if not _has_spark():
        return ""
    from importlib.metadata import version

    return f", Spark {version('pyspark')}"


def _has_spark() -> bool:
    return find_spec("pyspark") is not None and java_path() is not None


def main(arguments: list[str]) -> None:
    """Measure every size in processes of their own and write the table into the page."""
    if arguments[:1] == ["--one"]:
        engine, place, trials = arguments[1:]
        sys.stdout.write("\n" + json.dumps(asdict(measure(engine, Path(place), int(trials)))) + "\n")
        return
    load = os.getloadavg()[0]
    sizes = [int(a.replace("_", "")) for a in arguments] or list(SIZES)
    result: list[Measured] = []
    for size in sizes:
        for one in _measured_apart(size):
            result.append(one)
            _write(table(result, load))  # at once: the largest size may be stopped


def _write(measured: str) -> None:
    before, rest = PAGE.read_text(encoding="utf-8").split(MARKS[0])
    after = rest.split(MARKS[1])[1]
    PAGE.write_text(f"{before}{MARKS[0]}\n{measured}\n{MARKS[1]}{after}", encoding="utf-8")


def _measured_apart(trials: int) -> Iterator[Measured]:
    with tempfile.TemporaryDirectory(prefix="latewood-scale-") as scratch:
        folder = Path(scratch) / "trials"
        write_trials(folder, trials)
        for engine in ("duckdb", "spark") if _has_spark() else ("duckdb",):
            words = ["--one", engine, str(folder), str(trials)]
            command = [sys.executable, "-m", "tests.bench.scale", *words]
            done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
            one = Measured(**json.loads(done.stdout.splitlines()[-1]))
            sys.stdout.write(f"{one}\n")
            yield one


if __name__ == "__main__":
    main(sys.argv[1:])
