"""The fast lane of a typed weigh-in on a built folder: CPU seconds from the value on the disk to trend and plan.

Measured on a copy of the folder; `python -m tests.bench.speed_parts fast DIR` prints it.
"""

from __future__ import annotations

import shutil
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import median

import duckdb

from latewood.pipeline.errors import EntryDoubtError
from latewood.pipeline.ingest.logs.entered import enter
from latewood.pipeline.ingest.logs.typed_check import TypedValue
from latewood.pipeline.ingest.plans.typed_mass import typed_mass
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.warehouse.connection import open_published

REPEATS = 5
AT_CAMP = """
select r.athlete_id, r.trend_kg from plan_review r join stay using (stay_id)
where (left_on is null or left_on >= ?) and r.as_of < ? and r.trend_kg is not null order by r.plan_id limit 40
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FastLane:
    """How many weigh-ins were typed, and the CPU seconds of one look at trend and plan with the first and with all."""

    typed: int
    one: float
    all: float


def measure_fast(root: Path) -> FastLane:
    """Type a weigh-in for athletes at camp in a copy of a data folder and time the fast lane, warm, in this process."""
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        copy = Path(shutil.copytree(root, Path(scratch) / "data"))
        today, seconds, typed = load_program(copy).today(), [], 0
        with closing(open_published(copy)) as connection:
            for athlete, kg in connection.execute(AT_CAMP, [today, today]).fetchall():
                if _typed(copy, str(athlete), float(kg), today):
                    typed += 1
                    if typed == 1:
                        seconds.append(_seconds(copy, connection))
            seconds.append(_seconds(copy, connection))
    return FastLane(typed=typed, one=seconds[0], all=seconds[-1])


def type_one(root: Path) -> None:
    """Type a weigh-in for the first athlete at camp who may have one without a question."""
    today = load_program(root).today()
    with closing(open_published(root)) as connection:
        people = connection.execute(AT_CAMP, [today, today]).fetchall()
    any(_typed(root, str(athlete), float(kg), today) for athlete, kg in people)


def _typed(root: Path, athlete: str, kg: float, on: date) -> bool:
    value = TypedValue(
        athlete_id=athlete, measure="body_mass", on=on, text=f"{kg:.1f}", unit="kg",
        conditions=(("state", "fasted"),),
    )  # fmt: skip
    try:
        enter(root, value, "bench")
    except EntryDoubtError:
        return False
    return True


def _seconds(root: Path, connection: duckdb.DuckDBPyConnection) -> float:
    """The median of some looks, after one that loads what is needed."""
    result = []
    for _ in range(REPEATS + 1):
        began = time.process_time()
        typed_mass(root, connection, PlanSettings())
        result.append(time.process_time() - began)
    return median(result[1:])
