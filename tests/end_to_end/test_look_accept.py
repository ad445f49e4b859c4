"""Eight sheets of an invented camp go in by the look: every stored value is the true one, and none is lost."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from latewood.dashboard.actions import following, look_actions
from latewood.pipeline.access import ROLES, Grant, Viewer
from latewood.pipeline.ingest.actions import build, import_files
from latewood.pipeline.ingest.look.accept import accept, look_at
from latewood.pipeline.ingest.program import prepare_folder
from tests.conftest import PROGRAM, Camp
from tests.look_camp import CAMPS, FAMILIES, ROSTER, STAYS, bathroom_scale, two_of_a_name

STEWARD = Viewer(name="Sage", email="s@example.org", grants=(Grant(role=ROLES["data_steward"]),))
BROKEN = ("broken.xlsx", b"PK\x03\x04 no workbook")


def fen_camp(folder: Path) -> Camp:
    camp = Camp(root=folder / "data", inbox=folder / "inbox")
    prepare_folder(camp.root)
    (camp.root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    files = [camp.write("roster.csv", ROSTER), camp.write("camps.csv", CAMPS), camp.write("stays.csv", STAYS)]
    import_files(camp.root, files, "tester")
    return camp


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Camp, list[str], list[str]]]:
    camp = fen_camp(tmp_path_factory.mktemp("look"))
    families = [make() for make in FAMILIES]
    files = [BROKEN, *((f.name, f.content) for f in families)]
    before = look_at(camp.root, files, {})
    assert not list((camp.root / "mappings").glob("*.toml"))  # a look stores nothing
    ready = [one.name for one in before if one.ready]
    answers = {f"{f.name} > {key}": value for f in families for key, value in f.answers.items()}
    outcomes, refused = accept(camp.root, look_at(camp.root, files, answers), "tester")
    assert len(outcomes) == 9  # a workbook of two sheets
    yield camp, ready, refused


def test_every_value_stored_is_the_true_one_and_none_is_missing(taken):
    camp, _, _ = taken
    truth = {key: value for make in FAMILIES for key, value in make().truth.items()}
    rows = camp.rows("select athlete_id, measure, measured_on, trial, value from reading")
    stored = {(a, m, day, trial): value for a, m, day, trial, value in rows}
    assert len(stored) == len(rows)
    wrong = {k: (v, truth.get(k)) for k, v in stored.items() if truth.get(k) != pytest.approx(v, rel=1e-9)}
    assert wrong == {}
    held = camp.rows(
        "select rule, athlete_text, measure, measured_on, raw_value from held_row where state = 'open'"
    )
    assert (truth.keys() - stored.keys(), held) == (set(), [])


def test_one_unreadable_file_stops_no_other_and_what_was_sure_was_not_asked(taken):
    _, ready, refused = taken
    assert [line.split(":")[0] for line in refused] == ["broken.xlsx"]
    assert ready == [make().name for make in FAMILIES if not make().asked]


def test_the_next_file_of_a_shape_is_known_whatever_its_name(taken):
    camp, _, _ = taken
    again = bathroom_scale(shift=3)
    looked = look_at(camp.root, [("another name.csv", again.content)], {})[0]
    assert "saved before" in looked.proposals[0].form
    before = len(list((camp.root / "mappings").glob("*.toml")))
    outcome = import_files(camp.root, [camp.write("night.csv", again.content)], "tester")[0]
    assert (outcome.rows_in, outcome.rows_taken) == (12, 12)
    assert len(list((camp.root / "mappings").glob("*.toml"))) == before


def test_where_a_build_follows_the_files_land_at_once_and_the_names_wait_for_it(tmp_path, monkeypatch):
    camp, family, asked = fen_camp(tmp_path), two_of_a_name(), []
    monkeypatch.setenv("LATEWOOD_DATA", str(camp.root))
    monkeypatch.setattr(following, "follows", lambda: True)
    monkeypatch.setattr(following, "soon", lambda: asked.append("build"))
    before = camp.rows("select max(build_id) from build_log")
    looks = look_actions.look(STEWARD, [(family.name, family.content)], family.answers)
    assert look_actions.take(STEWARD, looks, "tester") == ["pops.csv: readings, 6 rows, imported."]
    assert (camp.rows("select max(build_id) from build_log"), asked) == (before, ["build"])
    build(camp.root)
    rows = camp.rows("select athlete_id, measure, measured_on, trial, value from reading")
    assert {(a, m, day, trial): value for a, m, day, trial, value in rows} == family.truth
    assert camp.rows("select count(*) from held_row where state = 'open'") == [(0,)]
