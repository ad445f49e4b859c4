"""Rosters of two years without ids: one athlete stays one, two of a name are two, what nobody can tell is asked."""

from __future__ import annotations

from pathlib import Path

import pytest

from latewood.dashboard.views.data.look import known_before
from latewood.pipeline.errors import BuildError, FileUnreadableError
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.files.tidy import made_id
from latewood.pipeline.ingest.look.accept import Looked, accept, look_at
from latewood.pipeline.ingest.look.earlier import ALL_SAME, ANOTHER, SAY_EACH
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.warehouse.connection import published_path
from tests.conftest import PROGRAM, Camp

HEAD = "Player,DOB,Sex,Grad Year,Pos\n"
FIRST = (
    HEAD
    + "Perrin Vance,2016-01-12,male,2034,SS\nSilas Oakmere,2016-02-11,male,2034,OF\nInés Holloway,,female,,P\n"
)
PERRIN, SILAS, INES = made_id("Perrin Vance"), made_id("Silas Oakmere"), made_id("Inés Holloway")
SECOND_PERRIN = made_id("Perrin Vance", 1)
NAMES = "select athlete_id, display_name, birth_date::varchar from athlete order by display_name, birth_date"


pytestmark = pytest.mark.usefixtures("rows_only")


@pytest.fixture
def camp(tmp_path: Path) -> Camp:
    one = Camp(root=tmp_path / "data", inbox=tmp_path / "inbox")
    prepare_folder(one.root)
    (one.root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    take(one, "roster_2032.csv", FIRST)
    return one


def look(camp: Camp, name: str, text: str, answers: dict[str, str] | None = None) -> Looked:
    return look_at(camp.root, [(name, text.encode())], answers or {})[0]


def take(camp: Camp, name: str, text: str, answers: dict[str, str] | None = None) -> None:
    outcomes, refused = accept(camp.root, [look(camp, name, text, answers)], "tester")
    assert (len(outcomes), refused) == (1, [])


def open_of(looked: Looked) -> list[tuple[str, str]]:
    return [(q.key, q.proposed) for q in looked.proposals[0].open]


def test_another_birth_date_is_another_athlete_and_the_same_one_stays(camp: Camp) -> None:
    second = HEAD + "Perrin Vance,2017-01-22,male,2035,2B\nSilas Oakmere,2016-02-11,male,2034,C\n"
    looked = look(camp, "roster_2033.csv", second)
    assert looked.ready and not known_before(looked)
    assert any(SECOND_PERRIN in note and "2016-01-12" in note for note in looked.proposals[0].notes)
    take(camp, "roster_2033.csv", second)
    vance = [("Perrin Vance", "2016-01-12"), ("Perrin Vance", "2017-01-22")]
    rows = [(PERRIN, *vance[0]), (SECOND_PERRIN, *vance[1]), (SILAS, "Silas Oakmere", "2016-02-11")]
    assert camp.rows(NAMES) == [(INES, "Inés Holloway", None), *rows]
    build(camp.root)
    third = HEAD + "PERRIN VANCE,2017-01-22,male,2035,2B\n"
    assert look(camp, "roster_2034.csv", third).proposals[0].people[0].athlete_id == SECOND_PERRIN


@pytest.mark.parametrize("row", ["Perrin Vance,,female,,2B", "Perrin Vance,,,2035,2B"])
def test_another_sex_or_graduation_year_is_another_athlete(camp: Camp, row: str) -> None:
    assert look(camp, "next.csv", HEAD + row + "\n").proposals[0].people[0].athlete_id == SECOND_PERRIN


def test_what_was_taken_for_another_can_be_corrected_to_the_same(camp: Camp) -> None:
    text = HEAD + "Silas Oakmere,2016-02-12,male,2034,OF\n"
    take(camp, "corrected.csv", text, {"earlier Silas Oakmere": SILAS})
    assert (SILAS, "Silas Oakmere", "2016-02-12") in camp.rows(NAMES)
    assert len(camp.rows(NAMES)) == 3


def test_what_nothing_tells_apart_is_asked_and_each_answer_holds(camp: Camp) -> None:
    text = HEAD + "Inés Holloway,,female,,P\nPerrin Vance,,,2034,SS\n"
    asked = look(camp, "next.csv", text)
    assert [key for key, _ in open_of(asked)] == ["earlier Inés Holloway", "earlier Perrin Vance"]
    assert [bool(proposed) for _, proposed in open_of(asked)] == [False, True]
    assert not accept(camp.root, [asked], "tester")[0]
    take(camp, "next.csv", text, {"earlier Inés Holloway": ANOTHER, "earlier Perrin Vance": PERRIN})
    other = made_id("Inés Holloway", 1)
    assert [row[0] for row in camp.rows(NAMES)] == [*sorted([INES, other]), PERRIN, SILAS]
    again = look(camp, "next.csv", text)
    assert again.ready
    take(camp, "next.csv", text)
    assert len(camp.rows(NAMES)) == 4


def test_many_names_are_one_question(tmp_path: Path, camp: Camp) -> None:
    names = ["Ada Fern", "Bo Marl", "Cleo Dunmore", "Dov Ellery"]
    rows = "".join(f"{name},,,,P\n" for name in names)
    take(camp, "all_2032.csv", HEAD + rows)
    asked = look(camp, "all_2033.csv", HEAD + rows + "Eda Brook,,,,C\n")
    assert [key for key, _ in open_of(asked)] == ["earlier roster"]
    each = look(camp, "all_2033.csv", HEAD + rows + "Eda Brook,,,,C\n", {"earlier roster": SAY_EACH})
    assert [key for key, _ in open_of(each)] == [f"earlier {name}" for name in names]
    take(camp, "all_2033.csv", HEAD + rows + "Eda Brook,,,,C\n", {"earlier roster": ALL_SAME})
    assert len(camp.rows(NAMES)) == 8


def test_two_rosters_on_the_desk_at_once_are_compared_too(tmp_path: Path) -> None:
    one = Camp(root=tmp_path / "data", inbox=tmp_path / "inbox")
    prepare_folder(one.root)
    (one.root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    second = HEAD + "Perrin Vance,2017-01-22,male,2035,2B\n"
    looks = look_at(one.root, [("a.csv", FIRST.encode()), ("b.csv", second.encode())], {})
    outcomes, refused = accept(one.root, looks, "tester")
    assert (len(outcomes), refused) == (2, [])
    assert {row[0] for row in one.rows(NAMES)} == {PERRIN, SECOND_PERRIN, SILAS, INES}


def test_an_import_without_a_look_is_refused_where_a_made_id_could_be_two(camp: Camp) -> None:
    file = camp.write("roster_2033.csv", HEAD + "Perrin Vance,2017-01-22,male,2035,2B\n")
    with pytest.raises(FileUnreadableError, match=r"Perrin Vance.*earlier roster too.*latewood look"):
        import_files(camp.root, [file], "tester")
    same = camp.write("same.csv", HEAD + "Perrin Vance,2016-01-12,male,2034,2B\nEda Brook,,,,C\n")
    assert import_files(camp.root, [same], "tester")[0].rows_taken == 2
    again = camp.write("roster_2032.csv", FIRST)
    assert import_files(camp.root, [again], "tester")[0].state == "already there"


def test_an_earlier_roster_with_ids_keeps_them(camp: Camp) -> None:
    own = camp.write("ids.csv", "athlete_id,name,birth_date\nQ-7,Theodora Quill,2016-05-09\n")
    import_files(camp.root, [own], "tester")
    take(camp, "next.csv", HEAD + "Theodora Quill,2016-05-09,female,2034,1B\n")
    assert [row[0] for row in camp.rows(NAMES) if row[1] == "Theodora Quill"] == ["Q-7"]


def test_nobody_seems_new_because_the_build_cannot_be_read(camp: Camp) -> None:
    file = camp.write("roster_2033.csv", HEAD + "Perrin Vance,2017-01-22,male,2035,2B\n")
    published_path(camp.root).write_bytes(b"not a warehouse")
    with pytest.raises(BuildError):
        import_files(camp.root, [file], "tester")
    build(camp.root, fresh=True)
    assert [row[0] for row in camp.rows(NAMES) if row[1] == "Perrin Vance"] == [PERRIN]
    assert camp.rows(NAMES)[1][2] == "2016-01-12"
