"""The Data screen: a held row is answered, files are uploaded and withdrawn, and the rebuild brings it in."""

from __future__ import annotations

import shutil
import time
from contextlib import suppress
from pathlib import Path

import pytest

from latewood.dashboard.actions import following
from latewood.pipeline.errors import BuildError
from latewood.pipeline.ingest.actions import decide, import_files, withdraw
from latewood.pipeline.ingest.logs.build_notes import noted
from latewood.pipeline.ingest.logs.decisions import Answer
from tests.opening import open_folds, words_of
from tests.screens.conftest import ask


@pytest.fixture
def held_root(own_root: Path, tmp_path: Path) -> Path:
    file = tmp_path / "late.csv"
    file.write_text(
        "athlete,measured_on,measure,value,unit,trial,state\nNobody Here,2032-08-10,body_mass,73.9,kg,1,fasted\n"
    )
    import_files(own_root, [file], "tester")
    return own_root


def test_nothing_waiting_is_said_with_the_last_import(own_root, open_screen) -> None:
    page = open_screen(own_root, "data")
    text = " ".join(element.proto.body for element in page.get("html"))
    assert "Nothing waiting. Last import" in text
    assert not [button for button in page.button if button.key == "data_rebuild"]


def test_a_held_row_is_assigned_and_comes_in_at_the_rebuild(held_root, open_screen) -> None:
    held = ask(held_root, "select coalesce(group_id, held_id), rule from held_row where state = 'open'")
    assert [rule for _, rule in held] == ["unknown_athlete"]
    key = f"{held[0][0]}_unknown_athlete"
    before = ask(held_root, "select count(*) from reading")[0][0]
    page = open_screen(held_root, "data")
    assert "Nobody Here" in page.table[0].value.to_string()
    page.radio(key=f"data_action_{key}").set_value("assign")
    page.selectbox(key=f"data_athlete_{key}").set_value("T1")
    page.text_input(key=f"data_who_{key}").set_value("Sage")
    page.text_input(key=f"data_why_{key}").set_value("their nickname")
    next(button for button in page.button if button.label == "Write down the answer").click().run()
    assert not page.error
    page.button(key="data_rebuild").click().run()
    assert not page.error
    assert ask(held_root, "select count(*) from reading")[0][0] == before + 1
    assert ask(held_root, "select decided_by, why from decision") == [("Sage", "their nickname")]


def test_a_build_follows_an_answer_by_itself_and_says_what_it_changed(
    held_root, open_screen, monkeypatch
) -> None:
    monkeypatch.setenv("LATEWOOD_FOLLOW", "1")
    monkeypatch.setattr(following, "_FOLLOWERS", {})
    held = ask(held_root, "select coalesce(group_id, held_id) from held_row where state = 'open'")
    key = f"{held[0][0]}_unknown_athlete"
    page = open_screen(held_root, "data")
    assert not page.info
    page.radio(key=f"data_action_{key}").set_value("assign")
    page.selectbox(key=f"data_athlete_{key}").set_value("T1")
    page.text_input(key=f"data_who_{key}").set_value("Sage")
    page.text_input(key=f"data_why_{key}").set_value("their nickname")
    next(button for button in page.button if button.label == "Write down the answer").click().run()
    assert "A build follows by itself" in page.info[0].value
    assert not [button for button in page.button if button.key == "data_rebuild"]
    page.button(key="data_build_now").click().run()
    assert not page.error
    end = time.monotonic() + 120
    while following.state()[0] and time.monotonic() < end:
        time.sleep(0.1)
    page.run()
    assert "1 reading more, 1 row waiting fewer" in page.success[0].value
    page.run()
    assert not page.success
    assert not page.warning


def test_a_build_that_fails_after_an_answer_says_why(held_root, open_screen) -> None:
    page = open_screen(held_root, "data")
    assert not page.error
    page.session_state["data_before"] = None  # a build followed
    with suppress(BuildError), noted(held_root):
        raise BuildError("late.csv, line 2: cannot be placed")
    page.run()
    assert words_of(page.error[0].value) == "The build failed: late.csv, line 2: cannot be placed"
    assert not page.run().error


def test_an_answer_without_a_name_is_refused_and_changes_nothing(held_root, open_screen) -> None:
    page = open_screen(held_root, "data")
    next(button for button in page.button if button.label == "Write down the answer").click().run()
    assert page.error
    assert not (held_root / "decisions.jsonl").exists()


def test_withdrawing_needs_a_confirmation(own_root, open_screen) -> None:
    readings = ask(own_root, "select import_id from import where kind = 'readings'")[0][0]
    page = open_folds(open_screen(own_root, "data"))
    page.selectbox(key="data_withdraw_id").set_value(readings)
    page.text_input(key="data_withdraw_who").set_value("Sage")
    page.text_input(key="data_withdraw_why").set_value("wrong camp")
    next(button for button in page.button if button.label == "Withdraw").click().run()
    assert "tick the box" in page.error[0].value
    page.checkbox(key="data_withdraw_sure").check()
    next(button for button in page.button if button.label == "Withdraw").click().run()
    page.button(key="data_rebuild").click().run()
    assert ask(own_root, "select count(*) from reading") == [(0,)]
    assert ask(own_root, f"select withdrawn from import where import_id = '{readings}'") == [(True,)]


def test_uploaded_files_are_kept_and_built(empty_root, one_root, open_screen, tmp_path) -> None:
    root = tmp_path / "fresh"
    shutil.copytree(empty_root, root)
    roster = next(path for path in (one_root / "landing").rglob("roster.csv"))
    page = open_screen(root, "data")
    page.file_uploader(key="data_files").set_value(("roster.csv", roster.read_bytes(), "text/csv"))
    page.text_input(key="data_upload_who").set_value("Sage")
    next(button for button in page.button if button.label == "Import").click().run()
    assert "roster.csv: roster, 1 row, imported" in words_of(page.success[0].value)
    page.button(key="data_rebuild").click().run()
    assert ask(root, "select display_name from athlete") == [("Arlo Fernmoss",)]


def test_an_unreadable_upload_says_what_is_wrong(empty_root, open_screen, tmp_path) -> None:
    root = tmp_path / "fresh"
    shutil.copytree(empty_root, root)
    page = open_screen(root, "data")
    page.file_uploader(key="data_files").set_value(("what.csv", b"a,b\n1,2\n", "text/csv"))
    page.text_input(key="data_upload_who").set_value("Sage")
    next(button for button in page.button if button.label == "Import").click().run()
    assert "what.csv" in words_of(page.error[0].value)
    assert not list((root / "landing").glob("*/manifest.json"))


def test_an_answer_that_is_built_is_taken_back_and_its_rows_are_asked_again(held_root, open_screen) -> None:
    held = ask(held_root, "select held_id from held_row where state = 'open'")
    before = ask(held_root, "select count(*) from reading")[0][0]
    given = Answer(action="assign", who="Sage", why="their nickname", argument="T1")
    decide(held_root, [held[0][0]], given)
    assert ask(held_root, "select count(*) from reading")[0][0] == before + 1
    page = open_folds(open_screen(held_root, "data"))
    options = page.selectbox(key="data_undo_id").options
    assert len(options) == 1
    assert "Sage: 1 row of late.csv given to Arlo Fernmoss (their nickname)" in words_of(options[0])
    page.selectbox(key="data_undo_id").select_index(0)
    page.text_input(key="data_undo_who").set_value("Sage")
    page.text_input(key="data_undo_why").set_value("it was somebody else")
    next(button for button in page.button if button.label == "Take it back").click().run()
    assert not page.error
    page.button(key="data_rebuild").click().run()
    assert not page.error
    assert ask(held_root, "select count(*) from reading")[0][0] == before
    assert ask(held_root, "select held_id from held_row where state = 'open'") == held
    assert ask(held_root, "select action from decision order by decided_at, action") == [
        ("assign",),
        ("reopen",),
    ]
    assert [e for e in page.expander if e.label == "Take an answer back"] == []


def test_a_withdrawal_is_taken_back_too(own_root, open_screen) -> None:
    readings = ask(own_root, "select import_id from import where kind = 'readings'")[0][0]
    before = ask(own_root, "select count(*) from reading")
    withdraw(own_root, readings, "Sage", "wrong camp")
    page = open_folds(open_screen(own_root, "data"))
    page.selectbox(key="data_undo_id").select_index(0)
    page.text_input(key="data_undo_who").set_value("Sage")
    page.text_input(key="data_undo_why").set_value("it was the right camp")
    next(button for button in page.button if button.label == "Take it back").click().run()
    page.button(key="data_rebuild").click().run()
    assert ask(own_root, "select count(*) from reading") == before


def test_two_ids_are_looked_at_and_joined_and_the_join_can_be_taken_back(
    own_root, open_screen, tmp_path
) -> None:
    file = tmp_path / "second.csv"
    file.write_text("athlete_id,name,birth_date\nARL-7,Arlo Fernmos,2016-03-01\nBO-1,Bo Marl,2012-03-01\n")
    import_files(own_root, [file], "tester")
    page = open_folds(open_folds(open_screen(own_root, "data")))  # one fold stands in another
    page.selectbox(key="data_join_one").set_value("BO-1")
    page.selectbox(key="data_join_other").set_value("T1").run()
    assert "birth dates differ" in words_of(page.error[0].value)
    assert not [one for one in page.button if one.label == "Join them"]
    page.selectbox(key="data_join_one").set_value("ARL-7").run()
    shown = next(t.value for t in page.table if "Kept" in t.value).to_string()
    assert "Arlo Fernmos" in shown and "2016-03-01" in words_of(shown)
    page.text_input(key="data_join_who").set_value("Sage")
    page.text_input(key="data_join_why").set_value("typing error")
    next(one for one in page.button if one.label == "Join them").click().run()
    assert [one.value for one in page.error] == []
    page.button(key="data_rebuild").click().run()
    assert ask(own_root, "select distinct athlete_id from joined_name") == [("T1",)]
    (option,) = page.selectbox(key="data_undo_id").options
    assert "ARL-7 joined into Arlo Fernmoss (typing error)" in words_of(option)


def test_every_question_is_reached_by_kind_by_file_and_by_the_list(own_root, open_screen, tmp_path) -> None:
    head = "athlete,measured_on,measure,value,unit,trial,state\n"
    many = [f"Unknown {chr(65 + n)}lder,2032-08-10,body_mass,73.9,kg,1,fasted\n" for n in range(23)]
    files = {"many.csv": "".join(many), "one.csv": "Nobody Here,2032-08-10,body_mass,73.9,kg,1,fasted\n"}
    for name, rows in files.items():
        (tmp_path / name).write_text(head + rows)
    import_files(own_root, [tmp_path / name for name in files], "tester")
    page = open_screen(own_root, "data")

    def questions() -> list[str]:
        return [e.label for e in page.expander if "lder" in e.label or "Nobody Here" in e.label]

    assert len(questions()) == 12, [e.label for e in page.expander]
    page.button(key="data_questions_more").click().run()
    assert len(questions()) == 24
    page.selectbox(key="data_file").set_value("one.csv").run()
    assert len(questions()) == 1
    assert "Nobody Here" in page.table[0].value.to_string()


def test_one_bad_column_is_one_question_with_all_its_rows(own_root, open_screen, tmp_path) -> None:
    head = "athlete,measured_on,measure,value,unit,trial,state\n"
    rows = [f"Nobody Here,2032-08-{n:02d},body_mass,73.9,kg,1,fasted\n" for n in range(1, 16)]
    (tmp_path / "column.csv").write_text(head + "".join(rows))
    import_files(own_root, [tmp_path / "column.csv"], "tester")
    key = f"{ask(own_root, 'select distinct group_id from held_row')[0][0]}_unknown_athlete"
    page = open_screen(own_root, "data")
    assert len(page.table[0].value) == 6
    page.checkbox(key=f"data_rows_{key}").check().run()
    assert len(page.table[0].value) == 15
    page.radio(key=f"data_action_{key}").set_value("assign")
    page.selectbox(key=f"data_athlete_{key}").set_value("T1")
    page.text_input(key=f"data_who_{key}").set_value("Sage")
    page.text_input(key=f"data_why_{key}").set_value("their nickname")
    next(button for button in page.button if button.label == "Write down the answer").click().run()
    page.button(key="data_rebuild").click().run()
    assert ask(
        own_root, "select count(*) from held_row where rule = 'unknown_athlete' and state = 'open'"
    ) == [(0,)]
