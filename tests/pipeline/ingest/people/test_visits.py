"""The record of visits: a day is a visit, a reload is none, a broken record is said, and nobody is named in it."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.ingest.people.visits import VisitDay, note_visit, observed_builds, path_of, read_visits

FIRST, SECOND, THIRD = "a" * 16, "b" * 16, "c" * 16
MONDAY, NEXT, LATER = date(2033, 7, 25), date(2033, 8, 1), date(2033, 8, 8)
WHO = "sage@example.org"


def test_the_first_look_knows_no_visit_and_the_next_day_knows_it(tmp_path: Path) -> None:
    assert note_visit(tmp_path, WHO, MONDAY, FIRST).before is None
    result = note_visit(tmp_path, WHO, NEXT, SECOND)
    assert (result.before, result.trouble) == (VisitDay(on=MONDAY, build_id=FIRST), "")


def test_looks_of_one_day_are_one_visit_and_the_last_build_of_it_was_seen(tmp_path: Path) -> None:
    note_visit(tmp_path, WHO, MONDAY, FIRST)
    for _ in range(3):
        assert note_visit(tmp_path, WHO, NEXT, FIRST).before == VisitDay(on=MONDAY, build_id=FIRST)
    assert note_visit(tmp_path, WHO, NEXT, SECOND).before == VisitDay(on=MONDAY, build_id=FIRST)
    assert note_visit(tmp_path, WHO, LATER, THIRD).before == VisitDay(on=NEXT, build_id=SECOND)


def test_each_person_has_a_record_of_his_own_in_whatever_letters(tmp_path: Path) -> None:
    note_visit(tmp_path, WHO, MONDAY, FIRST)
    assert note_visit(tmp_path, "other@example.org", NEXT, FIRST).before is None
    assert note_visit(tmp_path, WHO.upper(), NEXT, SECOND).before is not None


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", '{"visits": 3}', '{"visits": [{"on": "soon", "build": "aaaaaaaaaaaaaaaa"}]}',
     '{"visits": [{"on": "2033-07-25", "build": "../../etc"}]}', '{"visits": [["2033-07-25"]]}'],
)  # fmt: skip
def test_a_broken_record_is_said_and_written_anew(text: str, tmp_path: Path) -> None:
    note_visit(tmp_path, WHO, MONDAY, FIRST)
    path_of(tmp_path, WHO).write_text(text, encoding="utf-8")
    result = note_visit(tmp_path, WHO, NEXT, SECOND)
    assert result.before is None
    assert "the record of your last visit cannot be read" in result.trouble
    again = note_visit(tmp_path, WHO, LATER, THIRD)
    assert (again.before, again.trouble) == (VisitDay(on=NEXT, build_id=SECOND), "")


def test_a_clock_put_back_does_not_make_the_future_the_last_visit(tmp_path: Path) -> None:
    note_visit(tmp_path, WHO, MONDAY, FIRST)
    note_visit(tmp_path, WHO, LATER, SECOND)
    assert note_visit(tmp_path, WHO, NEXT, SECOND).before == VisitDay(on=MONDAY, build_id=FIRST)


def test_the_file_names_nobody_and_is_whole_or_not_there(tmp_path: Path) -> None:
    note_visit(tmp_path, WHO, MONDAY, FIRST)
    path = path_of(tmp_path, WHO)
    assert "sage" not in path.name + path.read_text(encoding="utf-8")
    assert read_visits(path) == (VisitDay(on=MONDAY, build_id=FIRST),)
    assert sorted(one.name for one in path.parent.iterdir()) == sorted([".lock", path.name])


def test_a_folder_that_takes_nothing_is_said_and_the_last_visit_still_known(tmp_path, monkeypatch) -> None:
    note_visit(tmp_path, WHO, MONDAY, FIRST)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    result = note_visit(tmp_path, WHO, NEXT, SECOND)
    assert result.before == VisitDay(on=MONDAY, build_id=FIRST)
    assert result.trouble == "this visit cannot be written down (No space left on device)"
    monkeypatch.undo()
    assert read_visits(path_of(tmp_path, WHO)) == (VisitDay(on=MONDAY, build_id=FIRST),)


def test_every_build_that_a_visit_names_is_known(tmp_path: Path) -> None:
    note_visit(tmp_path, WHO, MONDAY, FIRST)
    note_visit(tmp_path, "other@example.org", MONDAY, SECOND)
    path_of(tmp_path, "broken@example.org").write_text("{", encoding="utf-8")
    assert observed_builds(tmp_path) == {FIRST, SECOND}
