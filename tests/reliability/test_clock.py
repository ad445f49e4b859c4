"""A clock that was set back changes no order: that of imports, decisions and lines does not hang on it."""

from __future__ import annotations

from pathlib import Path

import pytest

from latewood.pipeline.care.check import check_folder
from latewood.pipeline.care.erase import erase
from latewood.pipeline.ingest.actions import import_files, land_files, withdraw
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.logs import audit, decisions, planlog
from latewood.pipeline.warehouse.connection import open_published
from tests.conftest import LONG
from tests.reliability.kill import PROGRAM


def _set(root: Path, day: str) -> None:
    (root / "program.toml").write_text(PROGRAM.replace("2032-08-20", day), encoding="utf-8")


def _take(root: Path, inbox: Path, name: str, text: str, *, build_after: bool = False) -> str:
    path = inbox / name
    path.write_text(text, encoding="utf-8")
    take = import_files if build_after else land_files
    return take(root, [path], "Ira")[0].import_id


@pytest.mark.usefixtures("rows_only")
@pytest.mark.parametrize("day", ["2032-08-20", "2032-08-02", "2032-08-30"])
def test_the_latest_roster_wins_whatever_the_clock_said(lived: Path, tmp_path: Path, day: str) -> None:
    head = "athlete_id,name\n"
    _take(lived, tmp_path, "first.csv", f"{head}T9,Old Name\n")
    _set(lived, day)
    _take(lived, tmp_path, "second.csv", f"{head}T9,New Name\n")
    build(lived)
    with open_published(lived) as connection:
        assert connection.execute("select display_name from athlete where athlete_id = 'T9'").fetchall() == [
            ("New Name",)
        ]


def test_after_an_erasure_a_new_file_still_comes_last(lived: Path, tmp_path: Path) -> None:
    only_his = _take(lived, tmp_path, "their.csv", LONG + "T2,2032-06-20,body_mass,71,kg,1\n")
    ids = [_take(lived, tmp_path, f"{n}.csv", f"athlete_id,name\nT9,Name {n}\n") for n in range(6)]
    erase(lived, "T2", "Dana")
    ids += [_take(lived, tmp_path, f"{n}.csv", f"athlete_id,name\nT9,Name {n}\n") for n in range(6, 12)]
    result = [m.import_id for m in landing.manifests(lived / "landing")]
    assert only_his not in result
    assert [i for i in result if i in ids] == ids


def test_decisions_and_logs_keep_their_order(lived: Path, tmp_path: Path) -> None:
    import_id = _take(lived, tmp_path, "a.csv", LONG + "T1,2032-06-20,body_mass,61,kg,1\n")
    withdraw(lived, import_id, "Ira", "wrong day", build_after=False)
    planlog.hide_mass(lived, "T1", "Fen", hidden=True)
    _set(lived, "2032-08-02")
    land_files(lived, [tmp_path / "a.csv"], "Ira")
    planlog.hide_mass(lived, "T1", "Fen", hidden=False)
    assert import_id not in decisions.withdrawn_imports(decisions.read(lived / "decisions.jsonl"))
    assert planlog.hidden_masses(planlog.read_log(lived)) == frozenset()
    assert audit.check(lived).whole
    assert not [f for f in check_folder(lived) if f.wrong]
