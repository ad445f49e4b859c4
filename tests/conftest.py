"""A camp small enough to write down in a test, and the demo built once for all tests that read it."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import settings
from playwright.sync_api import Browser

from latewood.pipeline.cli.demo import make_demo
from latewood.pipeline.ingest.actions import ImportOutcome, import_files, land_files
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.stats.engine.kalman import TYPICAL
from latewood.pipeline.stats.plans.massvariance import USUAL_COURSE
from latewood.pipeline.stats.plans.weighin import mass_trends
from latewood.pipeline.warehouse.connection import open_published
from tests.shared import shared
from tests.tools.shots import chromium
from tests.two_camps import make_two_camps

OWN_MAIN = sys.modules["__main__"]
SOURCE = Path(__file__).parents[1] / "seed_data"
# the processes that tests start keep their bytecode, whatever the machine says: compiling anew costs each some 8 s
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
# no example drawn at random promises a time; the library's own 200 ms pass by themselves where processes share a core
settings.register_profile("shared core", deadline=5_000)
settings.load_profile("shared core")

ROSTER = """athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws,aliases
T1,Arlo Fernmoss,2016-03-01,male,baseball,2034,OF/1B,R,R,Arlo F.
T2,Bram Siltwood,2015-07-15,male,baseball,2033,C,L,R,
T3,Cleo Marshreed,2016-11-30,female,softball,2035,P,S,L,
T4,Rowan Dunegrass,2016-01-02,male,baseball,2034,SS,R,R,
T5,Rowan Dunegrass,2017-01-02,male,baseball,2035,2B,R,R,
"""
CAMPS = """camp_id,label,starts_on,ends_on,time_zone,place
K,Heath camp,2032-06-01,2032-08-15,America/Chicago,Field 2
"""
STAYS = """athlete,camp,arrived_on,left_on,planned_until,leave_reason
T1,K,2032-06-01,2032-08-15,,
T2,K,2032-06-01,,,
T3,K,2032-06-01,2032-06-20,2032-08-15,family
T4,K,2032-06-01,,,
T5,K,2032-06-01,,,
"""
LONG = "athlete,measured_on,measure,value,unit,trial\n"
PROGRAM = 'name = "Heath"\ninvented = true\ntime_zone = "America/Chicago"\nclock = "2032-08-20"\n'

NEW_MEASURE = """
[measures.sled_push]
label = "Sled push, 20 yd"
family = "speed"
unit = "s"
accepted_units = ["s"]
better = "lower"
resolution = 0.01
decimals = 2
hard_low = 1.5
hard_high = 20
trials = 2
summary = "median"
summary_reason = "Two pushes, neither preferred."
conditions = ["surface"]
typical_error = 0.1
smallest_change = 0.1
protocol = "Push the loaded sled 20 yards from a standing start. Rest three minutes between pushes."
source = "common practice, no source"
"""
SLED_READINGS = LONG + "".join(
    f"T1,{date(2032, 6, 2) + timedelta(days=day)},Sled push 20 yd,{6.5 - day * 0.03 + trial * 0.04:.2f},s,{trial}\n"
    for day in (0, 2, 14, 28, 42)
    for trial in (1, 2)
)

# fixtures that build a data folder or start an engine
BUILT = {
    "all_at_once", "built", "built_camp", "camp", "demo_root", "lived_root", "one_root", "spark", "three_root",
    "two_camps", "weighed",
}  # fmt: skip
# the processes of a run share its files one by one: those that take minutes come first, so that none waits at the end
FIRST = ("reliability", "browser", "signin", "end_to_end", "screens", "access")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if BUILT.intersection(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.builds)
    items.sort(key=_place)


def _place(item: pytest.Item) -> int:
    return next((at for at, name in enumerate(FIRST) if name in item.path.parts), len(FIRST))


@pytest.fixture(autouse=True)
def own_main() -> None:
    """A page that Streamlit ran in a test stays as `__main__`, and a process started later would run that page anew."""
    sys.modules["__main__"] = OWN_MAIN


@dataclass(frozen=True)
class Camp:
    """A data folder under test, and an inbox whose files are imported into it."""

    root: Path
    inbox: Path

    def write(self, name: str, text: str | bytes) -> Path:
        path = self.inbox / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    def take(self, name: str, text: str | bytes, mapping: Path | None = None) -> ImportOutcome:
        return import_files(self.root, [self.write(name, text)], "tester", mapping)[0]

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        with open_published(self.root) as connection:
            return connection.execute(sql).fetchall()

    def frame(self, sql: str) -> pd.DataFrame:
        with open_published(self.root) as connection:
            return connection.execute(sql).df()


@pytest.fixture
def camp(tmp_path: Path) -> Camp:
    return small_camp(tmp_path)


def small_camp(folder: Path) -> Camp:
    made = Camp(root=folder / "data", inbox=folder / "inbox")
    prepare_folder(made.root)
    (made.root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    files = [made.write("roster.csv", ROSTER), made.write("camps.csv", CAMPS), made.write("stays.csv", STAYS)]
    land_files(made.root, files, "tester")
    return made


@contextmanager
def without_fits() -> Iterator[None]:
    """Builds end before anything is fitted: rows are read, checked, held or stored as ever.

    Body mass is smoothed, with the variances of people in general instead of those found among these.
    """
    smoothed = partial(mass_trends, variances=TYPICAL, course=USUAL_COURSE)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("latewood.pipeline.ingest.build.run.run_results", lambda *_: None)
        patch.setattr("latewood.pipeline.warehouse.results.mass_trends", smoothed)
        yield


@pytest.fixture
def rows_only() -> Iterator[None]:
    """For tests that ask only what becomes of rows; no result table is filled."""
    with without_fits():
        yield


@pytest.fixture(scope="session")
def machine_browser() -> Iterator[Browser]:
    """The Chromium of this machine, one for all tests of a process: two cannot be driven from it."""
    with chromium() as result:
        yield result


@pytest.fixture(scope="session")
def demo_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo, to be read only."""
    return shared(tmp_path_factory, "demo", make_whole_demo)


def make_whole_demo(folder: Path) -> Path:
    make_demo(folder / "data", SOURCE)
    return folder / "data"


@pytest.fixture(scope="session")
def two_camps(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two small built camps, to be read only."""
    return shared(tmp_path_factory, "two-camps", make_two_camps)
