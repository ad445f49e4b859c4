"""Data folders that benches and the tool of many people run on: the demo, or so many invented readings.

Run as `python -m tests.bench.folders DIR 1000000`: a folder of a million readings, built. Invented readings: daily
weigh-ins and four tests with several trials, seven test days in a stay of ten weeks, about 500 readings an athlete.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.program import prepare_folder

READINGS_PER_ATHLETE = 500
STAY_DAYS = 70
START = date(2033, 5, 2)
PLANS, GAIN_KG = 40, 2.5
LAST_DAY = START + timedelta(days=STAY_DAYS)


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


if __name__ == "__main__":
    make_folder(Path(sys.argv[1]), int(sys.argv[2]))
