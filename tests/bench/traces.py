"""How many lines of raw traces a second are landed, read, checked and stored: `python -m tests.bench.traces 1000000`.

Invented throws: four channels at 250 samples a second, 0.9 s a trial, twenty trials of each of twenty athletes in a
file; one trial in twenty has a fault. `--make DIR LINES` leaves the files only.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.program import prepare_folder
from tests.bench.checked import check_rows

RATE, SPAN, RELEASE = 250, 0.9, 0.6
ATHLETES, TRIALS = 20, 20
SEED = 20330503
START = date(2033, 5, 2)
# height deg/s, s before the release, width s
CHANNELS = {
    "Pelvis": ("pelvis_peak_speed", 655, 0.118, 0.050),
    "Torso": ("torso_peak_speed", 1104, 0.082, 0.045),
    "Upper arm": ("upper_arm_peak_speed", 1500, 0.052, 0.032),
    "Forearm": ("forearm_peak_speed", 1900, 0.030, 0.028),
}
TIMES = np.arange(0, SPAN, 1 / RATE)
MAPPING = """
name = "Throw traces"
applies_to = "traces_*.csv"
kind = "traces"
layout = "wide"
[columns]
athlete = "Athlete"
measured_on = "Date"
trial = "Throw"
time = "Time"
event = "Mark"
[conditions]
action = "throw"
sensor_class = "inertial"
event = "release"
""" + "".join(
    f'[[values]]\nmeasure = "{measure}"\ncolumns = ["{name}"]\nunit = "deg/s"\n'
    for name, (measure, *_) in CHANNELS.items()
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Traced:
    """Lines of trace files, and CPU seconds: of a bare scan, of landing, and of reading, checking and storing them."""

    lines: int
    trials: int
    scan: float
    landing: float
    storing: float
    readings: int
    held: int

    @property
    def rate(self) -> float:
        """Lines a second from the file to the stored peaks."""
        return self.lines / (self.landing + self.storing)


def write_trace_files(folder: Path, lines: int) -> tuple[int, int]:
    """Write roster, camp, stays and trace files of about so many lines; return the lines and trials written."""
    rng = np.random.default_rng(SEED)
    per_file = ATHLETES * TRIALS * len(TIMES)
    ids = [f"B{i:04d}" for i in range(ATHLETES)]
    pd.DataFrame({
        "athlete_id": ids, "name": [f"Bench {i}" for i in ids], "birth_date": "2016-06-01", "sex": "male",
        "sport": "baseball", "graduation_year": 2035, "positions": "P", "bats": "R", "throws": "R",
    }).to_csv(folder / "roster.csv", index=False)  # fmt: skip
    files = max(1, round(lines / per_file))
    ends = START + timedelta(days=max(70, files))
    pd.DataFrame([{"camp_id": "Z", "label": "Bench", "starts_on": START, "ends_on": ends}]).to_csv(
        folder / "camps.csv", index=False
    )
    pd.DataFrame({"athlete": ids, "camp": "Z", "arrived_on": START, "left_on": ends}).to_csv(
        folder / "stays.csv", index=False
    )
    for number in range(files):
        day_of_traces(ids, START + timedelta(days=number), rng).to_csv(
            folder / f"traces_{number:04d}.csv", index=False
        )
    return files * per_file, files * ATHLETES * TRIALS


def day_of_traces(ids: list[str], on: date, rng: np.random.Generator) -> pd.DataFrame:
    """The lines of one file: twenty throws of each athlete of one day."""
    trials, samples = len(ids) * TRIALS, len(TIMES)
    columns = {}
    for name, (_, height, ahead, width) in CHANNELS.items():
        centre = RELEASE - ahead + rng.normal(0, 0.002, (trials, 1))
        value = height * np.exp(-((TIMES - centre) ** 2) / (2 * width**2)) + rng.normal(
            0, 6, (trials, samples)
        )
        columns[name] = _with_faults(np.round(value, 1), rng).ravel()
    mark = np.where(np.arange(samples) == round(RELEASE * RATE), "release", "")
    return pd.DataFrame({
        "Athlete": np.repeat(ids, TRIALS * samples), "Date": on.isoformat(),
        "Throw": np.tile(np.repeat(np.arange(1, TRIALS + 1), samples), len(ids)),
        "Time": np.tile(np.round(TIMES, 3), trials), **columns, "Mark": np.tile(mark, trials),
    })  # fmt: skip


def _with_faults(values: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """One trial in twenty turned, held, cut off, flat, or with samples missing."""
    for trial in np.flatnonzero(rng.random(len(values)) < 0.05):
        at = int(rng.integers(20, values.shape[1] - 20))
        match rng.integers(5):
            case 0:
                values[trial] *= -1
            case 1:
                values[trial, at : at + 5] = values[trial, at]
            case 2:
                values[trial] = np.minimum(values[trial], 0.8 * values[trial].max())
            case 3:
                values[trial] = 0.0
            case _:
                values[trial, at : at + 8] = np.nan
    return values


def measure_traces(lines: int) -> Traced:
    """Land and store so many lines of traces in a folder of its own, in this process, without models."""
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        inbox, root = Path(scratch) / "inbox", Path(scratch) / "data"
        inbox.mkdir()
        written, trials = write_trace_files(inbox, lines)
        prepare_folder(root)
        (root / "program.toml").write_text('name = "Bench"\ninvented = true\nclock = "2034-08-01"\n', "utf-8")
        (root / "mappings" / "traces.toml").write_text(MAPPING, encoding="utf-8")
        scan = _bare_scan(inbox)
        began = time.process_time()
        land_files(root, [inbox], "bench")
        landing = time.process_time() - began
        stored = check_rows(root, memo=True)
        return Traced(
            lines=written,
            trials=trials,
            scan=scan,
            landing=landing,
            storing=stored.cpu,
            readings=stored.taken,
            held=stored.held,
        )


def _bare_scan(inbox: Path) -> float:
    """CPU seconds in which DuckDB reads the files into a table."""
    began = time.process_time()
    with duckdb.connect() as connection:
        connection.execute("create table scanned as select * from read_csv(?)", [str(inbox / "traces_*.csv")])
    return time.process_time() - began


def main() -> None:
    """Measure one size, or leave the files in a folder."""
    if sys.argv[1] == "--make":
        folder = Path(sys.argv[2])
        folder.mkdir(parents=True, exist_ok=True)
        write_trace_files(folder, int(sys.argv[3]))
        return
    found = measure_traces(int(sys.argv[1]))
    print(f"{found}\n{found.rate:,.0f} lines a CPU second")  # noqa: T201  a report


if __name__ == "__main__":
    main()
