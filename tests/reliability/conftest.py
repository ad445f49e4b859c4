"""A small built camp with a decision, typed values, a plan decision, a consent and an issued page."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.ingest.actions import decide, import_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FIELDS, Consent
from latewood.pipeline.ingest.logs import focus, planlog
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.warehouse.connection import open_published
from tests.conftest import LONG
from tests.reliability.kill import FIRST, prepared, rows
from tests.shared import shared
from tests.typed import type_in

Rows = list[tuple[object, ...]]


def lived_in(folder: Path) -> Path:
    """A data folder in which everything there is has happened once."""
    root = prepared(folder)
    with closing(open_published(root)) as connection:
        (held,) = connection.execute("select held_id from held_row").fetchone()
    decide(root, [held], Answer(action="reject", who="Ira", why="nobody of that name"), build_after=False)
    type_in(
        root,
        by="Fen",
        athlete_id="T2",
        measure="body_mass",
        measured_on=FIRST,
        value="70.4",
        unit="kg",
        trial=9,
    )
    planlog.record_decision(
        root,
        planlog.NewPlanDecision(
            plan_id="P1",
            athlete_id="T2",
            decision=planlog.KEEP,
            review_on=date(2032, 8, 25),
            note="as planned",
            seen={},
        ),
        "Fen",
    )
    focus.write(
        root,
        focus.NewFocus(
            athlete_id="T2",
            text="Stride the same every time.",
            measure="exit_speed",
            review_on=date(2032, 8, 25),
        ),
        "Fen",
    )
    given = Consent(
        athlete_id="T1", given_by="guardian", given_on=date(2032, 8, 1), expires_on=date(2033, 1, 1),
        withdrawn_on=None, fields=FIELDS, measures=("all",), photo=False, projection=False, name_shown="",
        reference="form 1", import_id="", row_no=0,
    )  # fmt: skip
    consent_book.record(root, given, "Ira")
    build(root)
    done = list(issue.issue(issue.open_run(root, "Ira", forms=("json",)), ["T1"]))
    assert isinstance(done[0], issue.Issued), done
    return root


def content(root: Path) -> dict[str, Rows]:
    """Every row of every table but the build log."""
    with closing(open_published(root)) as connection:
        tables = connection.execute("select table_name from duckdb_tables() where not temporary").fetchall()
        return {
            t: connection.execute(f"select * from {t} order by all").fetchall()
            for (t,) in sorted(tables)
            if t != "build_log"
        }


def more(folder: Path, number: int = 1) -> Path:
    """A file that has not been imported yet."""
    path = folder / f"more{number}.csv"
    path.write_text(LONG + rows(number, 2), encoding="utf-8")
    return path


def take(root: Path, path: Path) -> str:
    return import_files(root, [path], "Ira")[0].state


@pytest.fixture(scope="session")
def lived_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shared(tmp_path_factory, "lived-in", lived_in)


@pytest.fixture
def lived(lived_root: Path, tmp_path: Path) -> Path:
    """A copy to be damaged."""
    return Path(shutil.copytree(lived_root, tmp_path / "data"))


@pytest.fixture
def copied(lived_root: Path, tmp_path: Path) -> Callable[[str], Path]:
    return lambda name: Path(shutil.copytree(lived_root, tmp_path / name))
