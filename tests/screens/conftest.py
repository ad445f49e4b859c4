"""Data folders for the screens: the demo, an empty one, one athlete; and a way to run one screen on them."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from latewood.pipeline.ingest.actions import import_files, land_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.warehouse.connection import open_published
from tests.opening import open_page
from tests.shared import shared

Open = Callable[..., AppTest]
YOUNG = "athlete_id,name,birth_date,sex,sport\nT9,Noor Sandfen,2019-03-01,female,softball\n"
OLDER = "T8,Wim Saltreed,2015-03-01,male,baseball\n"
STAYS = "athlete,camp,arrived_on,left_on,planned_until\nT9,K,2032-06-01,,2032-08-31\nT8,K,2032-06-01,,2032-08-31\n"


def ask(root: Path, sql: str) -> list[tuple]:
    with closing(open_published(root)) as connection:
        return connection.execute(sql).fetchall()


@pytest.fixture
def own_root(one_root: Path, tmp_path: Path) -> Path:
    """A copy of the one athlete's folder, to be written to."""
    root = tmp_path / "data"
    shutil.copytree(one_root, root)
    return root


@pytest.fixture
def open_screen(monkeypatch: pytest.MonkeyPatch) -> Open:
    def opened(root: Path, screen: str, **query: str) -> AppTest:
        monkeypatch.setenv("LATEWOOD_DATA", str(root))
        return open_page(screen, **query)

    return opened


@pytest.fixture(scope="session")
def empty_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("empty") / "data"
    prepare_folder(root)
    return root


@pytest.fixture(scope="session")
def one_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One athlete with a plan, daily weigh-ins and six test days in which the exit speed rises by 12 mph."""
    return shared(tmp_path_factory, "one-athlete", one_athlete)


def one_athlete(folder: Path) -> Path:
    inbox, root = folder / "inbox", folder / "data"
    inbox.mkdir()
    prepare_folder(root)
    (root / "program.toml").write_text(
        'name = "Heath"\ninvented = true\nclock = "2032-08-10"\n', encoding="utf-8"
    )
    start = date(2032, 6, 1)
    (inbox / "roster.csv").write_text(
        "athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws\n"
        "T1,Arlo Fernmoss,2016-03-01,male,baseball,2034,OF,R,R\n"
    )
    (inbox / "camps.csv").write_text(
        "camp_id,label,starts_on,ends_on,time_zone,place\nK,Heath camp,2032-06-01,2032-08-15,America/Chicago,F\n"
    )
    (inbox / "stays.csv").write_text(
        "athlete,camp,arrived_on,left_on,planned_until,leave_reason\nT1,K,2032-06-01,,2032-08-15,\n"
    )
    (inbox / "plans.csv").write_text(
        "plan_id,athlete,start_on,start_mass,target_on,target_mass,unit,purpose,made_by,approved_by,reason\n"
        "P1,T1,2032-06-01,72,2032-08-12,74,kg,strength,Fen,guardian,\n"
    )
    rows = [f"T1,{start + timedelta(days=d)},body_mass,{72 + 0.028 * d:.1f},kg,1,fasted,," for d in range(70)]
    for week in range(6):
        rows += [
            f"T1,{start + timedelta(days=1 + 13 * week)},exit_speed,{76 + 2.4 * week + 0.2 * n:.1f},mph,{n},,tee,metal"
            for n in range(1, 6)
        ]
    head = "athlete,measured_on,measure,value,unit,trial,state,delivery,bat\n"
    (inbox / "readings.csv").write_text(head + "\n".join(rows) + "\n")
    import_files(root, [inbox], "tester")
    return root


@pytest.fixture(scope="session")
def three_root(one_root: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """With one athlete under 14 and one of 17 without a plan, who has weigh-ins."""
    return shared(tmp_path_factory, "three-athletes", lambda folder: three_athletes(one_root, folder))


@pytest.fixture
def camp_root(three_root: Path, tmp_path: Path) -> Path:
    """A copy of the three athletes' folder, to be written to."""
    return Path(shutil.copytree(three_root, tmp_path / "camp"))


def three_athletes(one_root: Path, folder: Path) -> Path:
    root = Path(shutil.copytree(one_root, folder / "data"))
    mass = "athlete,measured_on,measure,value,unit,trial\n" + "".join(
        f"T8,2032-07-{day:02d},body_mass,{70 + 0.02 * day:.1f},kg,1\n" for day in range(1, 31)
    )
    for name, text in (("young.csv", YOUNG + OLDER), ("more_stays.csv", STAYS), ("mass.csv", mass)):
        (folder / name).write_text(text)
        land_files(root, [folder / name], "tester")
    build(root)
    return root
