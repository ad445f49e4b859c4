"""Looks that go wrong, are withdrawn, repeated, or come to a second file of the same shape."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from latewood.pipeline.errors import BuildError, FileUnreadableError
from latewood.pipeline.ingest import actions
from latewood.pipeline.ingest.actions import withdraw
from latewood.pipeline.ingest.build import run
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.look import accept as accepting
from latewood.pipeline.ingest.look.accept import accept, known_of, look_at
from tests.conftest import Camp
from tests.end_to_end.test_look_accept import fen_camp
from tests.look_camp import DAYS, bathroom_scale, lift_log, pocket_radar, two_of_a_name
from tests.typed_command import latewood

SCALE, LIFTS, RADAR, POPS = bathroom_scale(), lift_log(), pocket_radar(), two_of_a_name()
VALUES = "select athlete_id, measure, measured_on, trial, value from reading order by all"


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Camp:
    return fen_camp(tmp_path_factory.mktemp("before"))


@pytest.fixture
def fen(before: Camp, tmp_path: Path) -> Camp:
    shutil.copytree(before.root, tmp_path / "data")
    return Camp(root=tmp_path / "data", inbox=tmp_path / "inbox")


def imports(camp: Camp) -> set[str]:
    return {m.file_name for m in landing.manifests(camp.root / "landing")}


def mappings(camp: Camp) -> list[str]:
    return sorted(p.name for p in (camp.root / "mappings").glob("*.toml"))


def test_a_missing_path_and_an_unreadable_file_are_named_and_stop_no_other(fen: Camp) -> None:
    good = fen.write(SCALE.name, SCALE.content)
    shut = fen.write("folder/shut.csv", "name,date\n")
    shut.unlink()
    Path(shut).symlink_to(fen.inbox / "nowhere")  # unreadable for every user, root too
    words = ("look", fen.inbox / "gone.csv", good, shut.parent, "--accept", "--data", fen.root)
    done = latewood(*words)
    output = " ".join(done.stdout.split())
    assert "gone.csv: there is no such file; check the path" in output
    assert "shut.csv: cannot be read (No such file or directory); check its permissions" in output
    assert done.returncode == 0
    assert SCALE.name in imports(fen)


def test_where_no_path_can_be_read_the_command_fails(fen: Camp) -> None:
    done = latewood("look", fen.inbox / "gone.csv", fen.inbox / "lost.csv", "--data", fen.root)
    assert done.returncode == 2
    assert "gone.csv" in done.stderr
    assert "lost.csv" in done.stderr


def answered(camp: Camp, *families) -> list[accepting.Looked]:
    given = {f"{f.name} > {key}": value for f in families for key, value in f.answers.items()}
    return look_at(camp.root, [(f.name, f.content) for f in families], given)


def _fails(*_: object, **__: object) -> None:
    raise BuildError("the disk is full; make room and build again")


def test_a_build_that_fails_lands_nothing_and_says_so(fen: Camp, monkeypatch) -> None:
    files, saved = imports(fen), mappings(fen)
    looks = answered(fen, SCALE, RADAR)
    monkeypatch.setattr(actions, "build", _fails)
    with pytest.raises(BuildError, match=r"the disk is full; .*nothing of these 2 files was kept"):
        accept(fen.root, looks, "tester")
    assert (imports(fen), mappings(fen)) == (files, saved)
    monkeypatch.undo()
    outcomes, refused = accept(fen.root, looks, "tester")
    assert [one.state for one in outcomes] == ["imported", "imported"]
    assert refused == []


def test_a_build_that_fails_after_the_names_says_what_landed_and_how_to_withdraw_it(
    fen: Camp, monkeypatch
) -> None:
    looks = answered(fen, POPS)
    monkeypatch.setattr(accepting, "build", _fails)
    with pytest.raises(BuildError) as raised:
        accept(fen.root, looks, "tester")
    (landed,) = [m for m in landing.manifests(fen.root / "landing") if m.file_name == POPS.name]
    words = str(raised.value)
    assert words.startswith("the disk is full")
    assert f"pops.csv is imported as {landed.import_id}" in words
    assert f"latewood withdraw {landed.import_id} --why" in words
    monkeypatch.undo()
    run.build(fen.root)
    assert len(fen.rows(VALUES)) == len(POPS.truth)


def test_a_file_that_is_refused_leaves_no_mapping(fen: Camp, monkeypatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise FileUnreadableError(
            "lift log.xlsx: is already imported by another mapping; withdraw that first"
        )

    monkeypatch.setattr(accepting, "land_files", refuse)
    outcomes, refused = accept(fen.root, answered(fen, LIFTS), "tester")
    assert (outcomes, mappings(fen)) == ([], [])
    assert "already imported" in refused[0]


def test_a_withdrawn_look_comes_back_with_its_names_and_a_repeated_one_changes_nothing(fen: Camp) -> None:
    ((pops,), _) = accept(fen.root, answered(fen, POPS), "tester")
    values, saved = fen.rows(VALUES), mappings(fen)
    assert len(values) == len(POPS.truth)
    withdraw(fen.root, pops.import_id, "Ira", "wrong day")
    assert fen.rows(VALUES) == []
    again = look_at(
        fen.root, [(POPS.name, POPS.content)], {f"{POPS.name} > {k}": v for k, v in POPS.answers.items()}
    )
    ((back,), _) = accept(fen.root, again, "tester")
    assert (back.state, back.import_id, back.rows_in) == ("restored", pops.import_id, len(POPS.truth))
    assert (fen.rows(VALUES), mappings(fen)) == (values, saved)
    ((same,), _) = accept(fen.root, again, "tester")
    assert (same.state, fen.rows(VALUES), mappings(fen)) == ("already there", values, saved)


def test_a_second_file_of_a_shape_goes_in_by_the_mapping_saved_before_and_says_so(fen: Camp) -> None:
    accept(fen.root, answered(fen, RADAR), "tester")
    saved = mappings(fen)
    later = RADAR.content.replace(b"2032", b"2031").replace(b"71.", b"73.")
    path = fen.write("night radar.csv", later)
    shown = latewood("look", path, "--data", fen.root)
    assert "mapping 'pocket', saved before (mappings/pocket.toml)" in shown.stdout
    assert "month first" not in shown.stdout  # not asked again
    latewood("look", path, "--accept", "--data", fen.root)
    assert mappings(fen) == saved
    ((name,),) = fen.rows("select distinct mapping from import where file_name = 'night radar.csv'")
    assert name == "pocket"


def test_an_answer_is_changed_by_withdrawing_and_looking_anew(fen: Camp) -> None:
    wrong = {
        **{f"{RADAR.name} > {k}": v for k, v in RADAR.answers.items()},
        f"{RADAR.name} > Exit speed: unit": "km/h",
    }
    ((first,), _) = accept(fen.root, look_at(fen.root, [(RADAR.name, RADAR.content)], wrong), "tester")
    withdraw(fen.root, first.import_id, "Ira", "the unit was wrong")
    path, saved = fen.write(RADAR.name, RADAR.content), mappings(fen)
    answers = [f"--answer={k}={v}" for k, v in RADAR.answers.items()]
    done = latewood("look", path, "--anew", *answers, "--accept", "--data", fen.root)
    assert done.returncode == 0, done.stderr
    assert mappings(fen) == saved  # the new one stands in the place of the old
    stored = {(a, m, day, t): v for a, m, day, t, v in fen.rows(VALUES)}
    assert stored == {key: pytest.approx(value, rel=1e-9) for key, value in RADAR.truth.items()}
    ready = look_at(fen.root, [("later.csv", RADAR.content)], {})[0]
    assert 'unit = "mph"' in ready.proposals[0].mapping_text


def test_the_same_file_with_other_answers_is_refused_while_the_first_is_in(fen: Camp) -> None:
    text = b"name,Pop time (s)\nSilas Oakmere,2.04\nBenjamin Rushford,2.11\n"
    accept(fen.root, look_at(fen.root, [("pop.csv", text)], {"day": "2032-06-14"}), "tester")
    outcomes, refused = accept(
        fen.root, look_at(fen.root, [("pop.csv", text)], {"day": "2032-06-15"}), "tester"
    )
    assert outcomes == []
    assert "is already imported as" in refused[0] and "latewood withdraw" in refused[0]
    assert len(fen.rows(VALUES)) == 2


def test_the_conditions_of_the_last_camp_are_asked_once_for_the_next_file(fen: Camp) -> None:
    given = {**RADAR.answers, "delivery": "tee", "device": "radar"}
    accept(fen.root, look_at(fen.root, [(RADAR.name, RADAR.content)], given), "tester")
    assert known_of(fen.root).usual == {"exit_speed": {"delivery": "tee", "device": "radar"}}
    other = b"player,when,Exit velo (mph)\nSilas Oakmere,2032-06-30,71.5\nInes Holloway,2032-06-30,66.5\n"
    (asked,) = look_at(fen.root, [("bats.csv", other)], {})[0].proposals
    assert [q.key for q in asked.open] == ["conditions"]
    later = look_at(fen.root, [("bats.csv", other)], {"conditions": "as in the last camp"})
    accept(fen.root, later, "tester")
    lines = fen.rows("select line, count(*) from reading group by all")
    assert len(lines) == 1
    assert "delivery=tee" in lines[0][0]


def test_a_stamp_with_its_offset_is_the_day_and_time_at_the_camp(fen: Camp) -> None:
    text = b"player,timestamp,Exit velo (mph)\nSilas Oakmere,2032-06-09T23:30:00-07:00,-71.5\n"
    text += b"Silas Oakmere,2032-06-12T18:05:00+00:00,-72.5\n"
    asked = look_at(fen.root, [("stamped.csv", text)], {})[0].proposals[0]
    assert [q.key for q in asked.open] == ["timestamp: zone", "Exit velo (mph): scale"]
    assert "By the clock of America/Chicago it is 2032-06-10 01:30." in asked.open[0].text
    given = {q.key: q.proposed for q in asked.open}
    accept(fen.root, look_at(fen.root, [("stamped.csv", text)], given), "tester")
    rows = fen.rows(
        "select measured_on, strftime(timezone('America/Chicago', measured_at), '%d %H:%M'), value / 0.44704 "
        "from reading order by all"
    )
    assert [(str(day), clock, round(speed, 6)) for day, clock, speed in rows] == [
        ("2032-06-10", "10 01:30", 71.5),
        ("2032-06-12", "12 13:05", 72.5),
    ]


def test_a_list_of_places_says_whose_each_lane_is_for_its_files_only(fen: Camp) -> None:
    lanes = fen.write("lanes.csv", f"Lane,date,Pop time (s)\n1,{DAYS[0]},2.04\n02,{DAYS[0]},2.11\n")
    who = fen.write("who.csv", 'lane,athlete\n1,Silas Oakmere\n2,"HOLLOWAY, Ines"\n')
    done = latewood("look", lanes, "--places", who, "--accept", "--data", fen.root)
    assert done.returncode == 0, done.stderr
    assert [(a, v) for a, _, _, _, v in fen.rows(VALUES)] == [("L1", 2.04), ("L3", 2.11)]
    kept = [p for p in fen.root.rglob("*") if p.is_file() and b"HOLLOWAY, Ines" in p.read_bytes()]
    assert kept == []  # the list is not kept
    next_day = fen.write("next.csv", f"Lane,date,Pop time (s)\n1,{DAYS[1]},2.05\n2,{DAYS[1]},2.12\n")
    assert "2 open question(s)" in latewood("look", next_day, "--data", fen.root).stdout


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "lane,athlete\n1,Nobody Known\n",
            "who.csv, line 2: 'Nobody Known' is 0 athletes; write an id there",
        ),
        ("lane,athlete\n1,Perrin Vance\n", "'Perrin Vance' is 2 athletes"),
        ("lane,athlete\n1,L1\n01,L2\n", "who.csv, line 3: place '01' has no number, or stands twice"),
        ("lane,athlete,x\n1,L1,2\n", "has 3 columns; a list of places has two"),
    ],
)
def test_a_list_of_places_that_is_unsure_is_refused(fen: Camp, text: str, words: str) -> None:
    lanes = fen.write("lanes.csv", f"Lane,date,Pop time (s)\n1,{DAYS[0]},2.04\n")
    done = latewood("look", lanes, "--places", fen.write("who.csv", text), "--accept", "--data", fen.root)
    assert done.returncode == 2
    assert words in done.stderr
    assert fen.rows(VALUES) == []
