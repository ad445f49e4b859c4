"""Measures import, build and reading against a bare scan of the same file, and writes docs/benchmarks.md.

Run as `python -m tests.bench.stages` (or `make bench`); sizes may be given as arguments. `--make DIR 1000000` leaves
a data folder of that size instead.
"""

from __future__ import annotations

import json
import os
import platform
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd

from latewood.pipeline.cli.demo import SEED_DATA, make_demo
from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.stats.plans.massvariance import STAYS_LIMIT
from latewood.pipeline.warehouse.connection import open_published
from tests.bench.fast import FastLane, fast_lines, measure_fast
from tests.bench.fits import ATHLETES, Fitted, fit_lines, measure_fit
from tests.bench.growth import exponents

SIZES = (10_000, 100_000, 1_000_000)
NEXT = 10_000_000
READINGS_PER_ATHLETE = 500
STAY_DAYS = 70
START = date(2033, 5, 2)
PLANS, GAIN_KG = 40, 2.5
LAST_DAY = START + timedelta(days=STAY_DAYS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Seconds and memory of one size."""

    readings: int
    athletes: int
    megabytes: float
    scan: float
    landing: float
    build: float
    results: int
    first_read: float
    weighin: float
    peak_gigabytes: float


def write_files(folder: Path, readings: int) -> int:
    """Write roster, camps, stays, plans and a long file of about so many readings; return the number of athletes."""
    athletes = max(20, readings // READINGS_PER_ATHLETE)
    rng = np.random.default_rng(20330502)
    ids = [f"B{i:06d}" for i in range(athletes)]
    birth = [date(2016, 1, 1) + timedelta(days=int(d)) for d in rng.integers(0, 1400, athletes)]
    roster = pd.DataFrame({
        "athlete_id": ids, "name": [f"Bench {i}" for i in ids], "birth_date": birth, "sex": "male",
        "sport": "baseball", "graduation_year": 2035, "positions": "OF", "bats": "R", "throws": "R",
    })  # fmt: skip
    roster.to_csv(folder / "roster.csv", index=False)
    ends = LAST_DAY
    camps = pd.DataFrame([{"camp_id": "Z", "label": "Bench", "starts_on": START, "ends_on": ends}])
    camps.to_csv(folder / "camps.csv", index=False)
    stays = pd.DataFrame({"athlete": ids, "camp": "Z", "arrived_on": START, "left_on": ends})
    stays.to_csv(folder / "stays.csv", index=False)
    rows = _readings(ids, rng, readings)
    rows.to_csv(folder / "readings.csv", index=False)
    first = rows[rows["measure"] == "body_mass"].drop_duplicates("athlete").head(PLANS)
    pd.DataFrame({
        "plan_id": "P-" + first["athlete"], "version": 1, "athlete": first["athlete"], "start_on": START,
        "start_mass": first["value"], "target_on": ends, "target_mass": first["value"] + GAIN_KG, "unit": "kg",
        "purpose": "strength base", "made_by": "Bench", "approved_by": "guardian", "reason": "", "ended_on": "",
    }).to_csv(folder / "plans.csv", index=False)  # fmt: skip
    return athletes


def _readings(ids: list[str], rng: np.random.Generator, wanted: int) -> pd.DataFrame:
    per_athlete = wanted // len(ids)
    weighins = 60
    trials = (per_athlete - weighins) // 4
    parts = [_weighins(ids, rng, weighins)]
    outputs = (("exit_speed", 74.0, 3.5, 0.25), ("throw_speed", 70.0, 1.5, 0.15), ("sprint_30yd", 4.1, 0.03, -0.004),
               ("countermovement_jump", 42.0, 1.5, 0.1))  # fmt: skip
    units = {"exit_speed": "mph", "throw_speed": "mph", "sprint_30yd": "s", "countermovement_jump": "cm"}
    for measure, level, scatter, gain in outputs:
        days = np.array([0, 2, 14, 28, 42, 56, 69])
        day, trial = np.divmod(np.arange(trials), -(-trials // len(days)))
        shape = (len(ids), trials)
        value = (
            level * (1 + 0.06 * rng.standard_normal((len(ids), 1)))
            + gain * days[day] / 7
            + rng.normal(0, scatter, shape)
        )
        parts.append(_long(ids, days[day], measure, value, units[measure], trial + 1))
    return pd.concat(parts, ignore_index=True)


def _weighins(ids: list[str], rng: np.random.Generator, count: int) -> pd.DataFrame:
    days = np.linspace(0, STAY_DAYS - 1, count).astype(int)
    level = rng.normal(70, 8, (len(ids), 1)) + rng.normal(0.3, 0.15, (len(ids), 1)) * days / 7
    value = level + rng.normal(0, 0.5, (len(ids), count))
    return _long(ids, days, "body_mass", value, "kg", np.ones(count, dtype=int))


def _long(
    ids: list[str], days: np.ndarray, measure: str, value: np.ndarray, unit: str, trial: np.ndarray
) -> pd.DataFrame:
    dates = np.array([str(START + timedelta(days=int(d))) for d in days])
    return pd.DataFrame({
        "athlete": np.repeat(ids, len(days)),
        "measured_on": np.tile(dates, len(ids)),
        "measure": measure,
        "value": np.round(value.ravel(), 2),
        "unit": unit,
        "trial": np.tile(trial, len(ids)),
    })


def make_folder(root: Path, readings: int) -> None:
    """A data folder of about so many invented readings, imported and built: what `tests.tools.load` is run on."""
    land_folder(root, readings)
    build(root)


def land_folder(root: Path, readings: int) -> None:
    """The same, landed and not built."""
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as inbox:
        write_files(Path(inbox), readings)
        _program(root)
        land_files(root, [Path(inbox)], "bench")


def land_demo(root: Path, source: Path) -> None:
    """The demo, landed and not built."""
    prepare_folder(root)
    shutil.copyfile(source / "program.toml", root / "program.toml")
    shutil.copytree(source / "mappings", root / "mappings", dirs_exist_ok=True)
    land_files(root, [source / "files"], "bench")


def _program(root: Path) -> None:
    prepare_folder(root)
    (root / "program.toml").write_text(
        f'name = "Bench"\ninvented = true\nclock = "{LAST_DAY}"\n', encoding="utf-8"
    )


def measure(readings: int) -> Measured:
    """Measure one size in this process."""
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        inbox, root = Path(scratch) / "inbox", Path(scratch) / "data"
        inbox.mkdir()
        athletes = write_files(inbox, readings)
        scan = _timed_scan(inbox / "readings.csv")
        _program(root)
        began = time.monotonic()
        land_files(root, [inbox], "bench")
        landed = time.monotonic()
        summary = build(root)
        built = time.monotonic()
        with open_published(root) as connection:
            trends = connection.execute("select count(*) from trend").fetchone()
            connection.execute("select * from trend where athlete_id = 'B000001'").fetchall()
        read = time.monotonic()
        weighin = _weigh_in(inbox, root)
        return Measured(
            readings=summary.readings,
            athletes=athletes,
            megabytes=(inbox / "readings.csv").stat().st_size / 1e6,
            scan=scan,
            landing=landed - began,
            build=built - landed,
            results=trends[0] if trends else 0,
            first_read=read - built,
            weighin=weighin,
            peak_gigabytes=resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6,
        )


def _weigh_in(inbox: Path, root: Path) -> float:
    """Seconds from one more weigh-in at the door to the build that shows it."""
    row = f"B000001,{LAST_DAY},body_mass,74.2,kg,1"
    (inbox / "one.csv").write_text(f"athlete,measured_on,measure,value,unit,trial\n{row}\n", encoding="utf-8")
    began = time.monotonic()
    land_files(root, [inbox / "one.csv"], "bench")
    build(root)
    return time.monotonic() - began


def _timed_scan(path: Path) -> float:
    began = time.monotonic()
    with duckdb.connect() as connection:
        connection.execute("create table scanned as select * from read_csv(?)", [str(path)])
        connection.execute("select measure, count(*), avg(value) from scanned group by measure").fetchall()
    return time.monotonic() - began


def document(found: list[Measured], fits: list[Fitted], load: float = 0.0) -> str:
    """Return docs/benchmarks.md for the sizes measured, `load` being what else the machine had to do."""
    lines = [
        "# Benchmarks",
        "",
        "Written by `make bench`; single runs, read as ± 30 %. Invented readings: daily weigh-ins and four tests with",
        "several trials, seven test days in a stay of ten weeks, about 500 readings an athlete.",
        "",
        f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}, "
        f"DuckDB {duckdb.__version__}. Load average before: {load:.1f}.",
        "",
        "| readings | athletes | CSV MB | bare scan s | landing s | build s | (landing + build) / scan | trends fitted "
        "| first read s | one weigh-in s | peak GB |",
        "|---|---|---|---|---|---|---|---|---|---|---|",
    ]
    lines += [
        f"| {m.readings:,} | {m.athletes:,} | {m.megabytes:.1f} | {m.scan:.2f} | {m.landing:.2f} | {m.build:.1f} "
        f"| {(m.landing + m.build) / m.scan:.0f} | {m.results:,} | {m.first_read:.2f} | {m.weighin:.1f} "
        f"| {m.peak_gigabytes:.2f} |"
        for m in found
    ]
    lines += [
        "",
        "Bare scan: DuckDB reads the same CSV into a table and averages it by measure. Landing: read, check the shape,",
        "hash and store. Build: every row checked, every model fitted, published. First read: open the published file",
        "and fetch one athlete's trends. One weigh-in: a file of one more row imported, and the build that shows it.",
        "Peak is of the whole process.",
        "",
    ]
    return "\n".join([*lines, *_growth(found), *_aims(found), *fit_lines(fits)])


def _aims(found: list[Measured]) -> list[str]:
    """The aims for one machine, and how far from them the largest size was."""
    most = found[-1]
    bound = (most.landing + most.build) / most.scan
    return [
        f"{NEXT:,} readings: " + ("see above." if most.readings >= 0.9 * NEXT else "not run here."),
        "Peak memory of a size that was not run is not foretold: here nothing limited it.",
        "",
        f"Aim: import and build within 3 times the bare scan: {_met(bound <= 3.0)}, {bound:.0f} times at "
        f"{most.readings:,} readings.",
        "A bare scan neither checks a row nor fits a model; the build is nearly all that.",
        "",
        f"Aim: a new weigh-in shown in under 2 s: {_met(most.weighin < 2.0)}, {most.weighin:.1f} s at "
        f"{most.readings:,} readings and {found[0].weighin:.1f} s at {found[0].readings:,}.",
        "What no weigh-in enters is found again and not fitted (trends, measurement error, cohorts, past projections,",
        "files as text). Checks of rows pool over a measure, and body mass is filtered with variances pooled over at",
        f"most {STAYS_LIMIT} stays spread over all: one reading may move both by their last digits, so rows are",
        "checked and what rests on body mass is fitted anew, and the result is that of a whole build to the last bit.",
        "",
    ]


def _met(is_met: bool) -> str:
    return "met" if is_met else "not met"


def _growth(found: list[Measured]) -> list[str]:
    """The exponent of growth of each stage from one size to the next."""
    sizes = [m.readings for m in found]
    if len(sizes) < 2:
        return []
    steps = " | ".join(f"{a:,} to {b:,}" for a, b in pairwise(sizes))
    lines = [
        "Exponent of growth: the slope of log seconds on log readings; 1 is growth in proportion.",
        "",
        f"| stage | {steps} |",
        "|---" * len(sizes) + "|",
    ]
    stages = {"bare scan": [m.scan for m in found], "landing": [m.landing for m in found],
              "build": [m.build for m in found]}  # fmt: skip
    for stage, seconds in stages.items():
        lines.append(f"| {stage} | " + " | ".join(f"{e:.2f}" for e in exponents(sizes, seconds)) + " |")
    return [*lines, ""]


def main() -> None:
    """Measure every size in a process of its own and write the page."""
    if len(sys.argv) > 2 and sys.argv[1] == "--one":
        print(json.dumps(asdict(measure(int(sys.argv[2])))))  # noqa: T201  read by the process that asked
        return
    if len(sys.argv) > 2 and sys.argv[1] == "--fit":
        print(json.dumps(asdict(measure_fit(int(sys.argv[2])))))  # noqa: T201  read by the process that asked
        return
    if len(sys.argv) > 3 and sys.argv[1] == "--make":
        make_folder(Path(sys.argv[2]), int(sys.argv[3]))
        return
    load = os.getloadavg()[0]
    sizes = [int(s) for s in sys.argv[1:]] or list(SIZES)
    result = [Measured(**_in_own_process("--one", size)) for size in sizes]
    fits = [Fitted(**_in_own_process("--fit", athletes)) for athletes in ATHLETES]
    text = document(result, fits, load) + "\n".join(["", *fast_lines(_fast_on_demo(), "on the demo")])
    Path("docs/benchmarks.md").write_text(text, encoding="utf-8")
    print(text)  # noqa: T201  a report


def _fast_on_demo() -> FastLane:
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        make_demo(Path(scratch) / "data", SEED_DATA)
        return measure_fast(Path(scratch) / "data")


def _in_own_process(what: str, size: int) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.bench.stages", what, str(size)]
    run = subprocess.run(command, check=True, capture_output=True, text=True)
    result: dict[str, Any] = json.loads(run.stdout)
    return result


if __name__ == "__main__":
    main()
