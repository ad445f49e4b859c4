"""The warehouse is a function of landing, catalogue and decisions, and nothing that fails changes what is published."""

from __future__ import annotations

import json
import multiprocessing
import random
import shutil
import signal
import threading
import time
from datetime import date, timedelta
from pathlib import Path

import duckdb
import pytest
from filelock import FileLock

from latewood.pipeline.errors import (
    BuildError,
    DecisionError,
    FileUnreadableError,
    LandingError,
    NothingPublishedError,
)
from latewood.pipeline.ingest.actions import decide, import_files, withdraw
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.warehouse.connection import open_published, published_path
from tests.conftest import LONG, NEW_MEASURE, SLED_READINGS, Camp

FIRST = date(2032, 6, 2)
rows_only = pytest.mark.usefixtures("rows_only")


def season(athletes: tuple[str, ...] = ("T1", "T2", "T3", "T4", "T5")) -> str:
    lines = []
    for position, athlete in enumerate(athletes):
        days = 18 if athlete == "T3" else 60
        for day in range(0, days, 3):
            kg = 60 + 3 * position + day * 0.04 + day % 7 * 0.1
            lines.append(f"{athlete},{FIRST + timedelta(days=day)},body_mass,{kg:.1f},kg,1")
        for day in range(0, days, 14):
            for trial in range(1, 6):
                mph = 70 + position + day * 0.05 + trial * 0.6
                lines.append(f"{athlete},{FIRST + timedelta(days=day)},exit_speed,{mph:.1f},mph,{trial}")
    return LONG + "\n".join(lines) + "\n"


def content(root: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table but the build log."""
    with open_published(root) as connection:
        tables = [
            t[0]
            for t in connection.execute(
                "select table_name from duckdb_tables() where not temporary"
            ).fetchall()
        ]
        return {
            t: connection.execute(f"select * from {t} order by all").fetchall()
            for t in sorted(tables)
            if t != "build_log"
        }


def test_deleted_and_built_again_it_is_the_same_to_the_last_bit(camp: Camp) -> None:
    camp.take("season.csv", season() + "T1,2032-06-06,body_mass,133,kg,1\n")
    decide(
        camp.root,
        [str(camp.rows("select held_id from held_row")[0][0])],
        Answer(action="mend", who="Ira", why="scale showed lb"),
    )
    before = content(camp.root)
    assert before["trend"]
    assert before["mass_trend"]
    shutil.rmtree(camp.root / "warehouse")
    build(camp.root)
    assert content(camp.root) == before


def test_importing_twice_changes_nothing(camp: Camp) -> None:
    camp.take("season.csv", season())
    before, published = content(camp.root), published_path(camp.root)
    assert camp.take("season.csv", season()).state == "already there"
    assert published_path(camp.root) == published
    assert content(camp.root) == before


@rows_only
def test_an_import_can_be_withdrawn_and_leaves_its_trace(camp: Camp) -> None:
    camp.take("season.csv", season())
    extra = camp.take("extra.csv", LONG + "T1,2032-08-10,body_mass,63.4,kg,1\n")
    import_id = extra.import_id
    withdraw(camp.root, import_id, "Ira", "wrong day")
    assert camp.rows(f"select count(*) from reading where import_id = '{import_id}'") == [(0,)]
    assert camp.rows(f"select withdrawn, rows_taken from import where import_id = '{import_id}'") == [
        (True, 0)
    ]
    assert camp.rows("select action, decided_by, why from decision") == [("withdraw", "Ira", "wrong day")]
    with pytest.raises(DecisionError, match="was withdrawn before; import the file again"):
        withdraw(camp.root, import_id, "Ira", "again")
    assert camp.take("extra.csv", LONG + "T1,2032-08-10,body_mass,63.4,kg,1\n").state == "restored"
    assert camp.rows(f"select count(*) from reading where import_id = '{import_id}'") == [(1,)]


@rows_only
@pytest.mark.parametrize(
    ("action", "argument", "expected"),
    [
        ("accept", None, [("T1", 99.0, True, None)]),
        ("mend", None, [("T1", pytest.approx(44.906, abs=1e-3), True, "unit_slip")]),
        ("reject", None, []),
        ("assign", "T2", []),
    ],
)
def test_a_decision_is_replayed(
    camp: Camp, action: str, argument: str | None, expected: list[object]
) -> None:
    lines = "".join(
        f"T1,{FIRST + timedelta(days=d)},body_mass,{45 + d % 3 * 0.1:.1f},kg,1\n" for d in range(10)
    )
    camp.take("a.csv", LONG + lines + "T1,2032-06-20,body_mass,99,kg,1\n")
    held_id = str(camp.rows("select held_id from held_row where rule = 'unit_slip'")[0][0])
    decide(camp.root, [held_id], Answer(action=action, who="Ira", why="asked the coach", argument=argument))
    build(camp.root, fresh=True)
    query = (
        "select athlete_id, value, decided, mend from reading "
        "where measured_on = '2032-06-20' and athlete_id = 'T1'"
    )
    assert camp.rows(query) == expected


@rows_only
def test_an_unknown_name_can_be_assigned(camp: Camp) -> None:
    camp.take("a.csv", LONG + "Arlo Fernmos,2032-06-20,body_mass,70,kg,1\n")
    group = str(camp.rows("select group_id from held_row")[0][0])
    with pytest.raises(DecisionError, match="athlete 'T9' is not on any roster"):
        decide(camp.root, [group], Answer(action="assign", who="Ira", why="typing error", argument="T9"))
    decide(camp.root, [group], Answer(action="assign", who="Ira", why="typing error", argument="T1"))
    assert camp.rows("select athlete_id, decided from reading") == [("T1", True)]
    assert camp.rows("select state from held_row") == [("assigned",)]


@rows_only
def test_a_correction_replaces_only_after_a_yes(camp: Camp) -> None:
    camp.take("a.csv", LONG + "T1,2032-06-20,body_mass,70,kg,1\n")
    camp.take("b.csv", LONG + "T1,2032-06-20,body_mass,70.6,kg,1\n")
    assert camp.rows("select value from reading") == [(70.0,)]
    decide(
        camp.root,
        [str(camp.rows("select held_id from held_row")[0][0])],
        Answer(action="mend", who="Ira", why="coach's note"),
    )
    assert camp.rows("select value from reading") == [(70.6,)]
    assert camp.rows("select state from held_row order by 1") == [("mended",), ("replaced",)]


@rows_only
def test_what_cannot_be_decided_says_why(camp: Camp) -> None:
    camp.take("a.csv", LONG + "T1,2032-06-20,body_mass,seventy,kg,1\n")
    held_id = str(camp.rows("select held_id from held_row")[0][0])
    with pytest.raises(DecisionError, match="cannot be taken as it is"):
        decide(camp.root, [held_id], Answer(action="accept", who="Ira", why="looks right"))
    with pytest.raises(DecisionError, match="no proposed value"):
        decide(camp.root, [held_id], Answer(action="mend", who="Ira", why="looks right"))
    with pytest.raises(DecisionError, match="no held row or group of that id"):
        decide(camp.root, ["abc:1:x"], Answer(action="reject", who="Ira", why="looks wrong"))
    assert not (camp.root / "decisions.jsonl").exists()


@rows_only
def test_an_unreadable_file_changes_nothing(camp: Camp) -> None:
    camp.take("season.csv", season())
    before = sorted(p.name for p in camp.root.rglob("*"))
    good, bad = (
        camp.write("good.csv", LONG + "T1,2032-08-10,body_mass,63,kg,1\n"),
        camp.write("bad.csv", LONG + "T1,2032\n"),
    )
    with pytest.raises(FileUnreadableError, match=r"bad.csv, line 2: has 2 fields where the header has 6"):
        import_files(camp.root, [good, bad], "tester")
    assert sorted(p.name for p in camp.root.rglob("*")) == before


def test_a_changed_landing_file_stops_the_build_and_names_it(camp: Camp) -> None:
    camp.take("season.csv", season())
    published = published_path(camp.root)
    landed = next(camp.root.glob("landing/*/season.csv"))
    landed.write_bytes(landed.read_bytes().replace(b"70.6", b"70.7", 1))
    with pytest.raises(LandingError, match=r"season.csv .* was changed after it arrived"):
        build(camp.root, fresh=True)
    assert published_path(camp.root) == published
    assert camp.rows("select count(*) > 0 from trend") == [(True,)]


def test_nothing_published_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(NothingPublishedError, match="import files, then run `latewood build`"):
        open_published(tmp_path)


@rows_only
def test_a_second_build_waits_and_then_says_so(camp: Camp) -> None:
    camp.take("season.csv", season())
    with (
        FileLock(str(camp.root / "warehouse" / "build.lock")),
        pytest.raises(BuildError, match="another build has been running"),
    ):
        # The lock is held by this thread; another thread must wait for it.
        outcome: list[BaseException] = []

        def second() -> None:
            try:
                build(camp.root, fresh=True, wait=0.2)
            except BuildError as error:
                outcome.append(error)

        thread = threading.Thread(target=second)
        thread.start()
        thread.join()
        raise outcome[0]


@rows_only
def test_an_open_reader_keeps_its_build_while_another_is_published(camp: Camp) -> None:
    camp.take("season.csv", season())
    with open_published(camp.root) as old:
        count = old.execute("select count(*) from reading").fetchone()
        for day in (10, 11, 12):
            camp.take(f"extra{day}.csv", LONG + f"T1,2032-08-{day},body_mass,63.4,kg,1\n")
        assert old.execute("select count(*) from reading").fetchone() == count
    assert camp.rows("select count(*) from reading")[0][0] == count[0] + 3


def build_anew(root: Path) -> None:
    build(root, fresh=True)


def test_a_build_killed_at_any_moment_leaves_the_published_one_whole(camp: Camp) -> None:
    camp.take("season.csv", season())
    before = content(camp.root)
    context = multiprocessing.get_context("forkserver")  # a plain fork would take DuckDB's locks along
    context.set_forkserver_preload([__name__])
    usual = 0.0
    for _ in range(2):  # the first also waits for the server and its imports
        started = time.monotonic()
        process = context.Process(target=build_anew, args=(camp.root,))
        process.start()
        process.join()
        usual = time.monotonic() - started
        assert process.exitcode == 0
    moments = random.Random(20320602)
    killed = 0
    for _ in range(20):
        process = context.Process(target=build_anew, args=(camp.root,))
        process.start()
        process.join(moments.uniform(0.05, 1.0) * usual)
        process.kill()
        process.join()
        killed += process.exitcode == -signal.SIGKILL
        with open_published(camp.root) as connection:
            assert connection.execute("select count(*) from reading").fetchone() == (len(before["reading"]),)
    assert killed >= 10
    build(camp.root, fresh=True)
    assert content(camp.root) == before
    assert not list((camp.root / "warehouse").glob(".building-*"))


def test_one_entry_in_the_catalogue_reaches_import_warehouse_and_trends(camp: Camp) -> None:
    (camp.root / "measures.toml").write_text(NEW_MEASURE, encoding="utf-8")
    camp.take("sled.csv", SLED_READINGS)
    assert camp.rows(
        "select count(*), min(unit) from reading join measure using (measure) where measure = 'sled_push'"
    ) == [(10, "s")]
    verdict, change = camp.rows("select verdict, change from trend where measure = 'sled_push'")[0]
    assert verdict == "clear gain"
    assert float(str(change)) < 0


@rows_only
def test_the_manifest_tells_who_when_and_how(camp: Camp) -> None:
    outcome = camp.take("season.csv", season())
    path = next(camp.root.glob(f"landing/*/{outcome.import_id}.json"))
    manifest = json.loads(path.read_text(encoding="utf-8"))
    assert (manifest["received_by"], manifest["mapping_name"], manifest["rows_in"]) == (
        "tester",
        "own columns",
        outcome.rows_in,
    )
    counts = json.loads(path.with_suffix(".outcome").read_text(encoding="utf-8"))
    assert counts["rows_taken"] == outcome.rows_taken
    assert isinstance(duckdb.__version__, str)


PLANS = """plan_id,athlete,start_on,start_mass,target_on,target_mass,unit
P1,T1,2032-06-02,60,2032-08-10,62,kg
P2,T2,2032-06-02,63,2032-08-10,64,kg
"""


@pytest.mark.parametrize(
    "readings", ["", "T1,2032-06-05,body_mass,60.1,kg,1\n", "T1,2032-06-05,exit_speed,71,mph,1\n"]
)
def test_plans_without_or_with_a_single_reading_are_said_to_be_unseen(camp: Camp, readings: str) -> None:
    camp.take("plans.csv", PLANS)
    if readings:
        camp.take("a.csv", LONG + readings)
    assert (
        len(camp.rows("select plan_id from plan_review where chance_target is null or n_weighins = 1")) == 2
    )


@rows_only
def test_a_value_can_be_corrected_in_the_unit_of_its_row(camp: Camp) -> None:
    camp.take("a.csv", LONG + "T1,2032-06-20,body_mass,one fifty,lb,1\n")
    held_id = str(camp.rows("select held_id from held_row")[0][0])
    with pytest.raises(DecisionError, match="outside the possible range"):
        decide(
            camp.root, [held_id], Answer(action="correct", who="Ira", why="read from the sheet", value="1500")
        )
    decide(camp.root, [held_id], Answer(action="correct", who="Ira", why="read from the sheet", value="150"))
    assert camp.rows("select round(value, 3), mend, decided from reading") == [
        (68.039, "unreadable_value", True)
    ]


@rows_only
def test_a_swapped_pair_is_exchanged_by_one_decision_and_leaves_its_trace(camp: Camp) -> None:
    lines = [f"T1,{FIRST + timedelta(days=d)},body_mass,{61 + d % 3 * 0.1:.1f},kg,1" for d in range(10)]
    lines += [f"T2,{FIRST + timedelta(days=d)},body_mass,{84 + d % 3 * 0.1:.1f},kg,1" for d in range(10)]
    lines[5], lines[15] = lines[5].replace("T1,", "T2,"), lines[15].replace("T2,", "T1,")
    camp.take("a.csv", LONG + "\n".join(lines) + "\n")
    group = str(camp.rows("select distinct group_id from held_row")[0][0])
    decide(camp.root, [group], Answer(action="exchange", who="Ira", why="asked both"))
    assert camp.rows("select athlete_id, count(*), max(value) - min(value) < 1 from reading group by 1 order by 1") == [
        ("T1", 10, True), ("T2", 10, True)
    ]  # fmt: skip
    assert camp.rows("select rule, state from held_row") == [("swapped_pair", "assigned")] * 2
    assert camp.rows("select bool_and(applied) from decision") == [(True,)]


@rows_only
def test_a_spelling_that_was_assigned_is_remembered(camp: Camp) -> None:
    camp.take("a.csv", LONG + "Nobody Known,2032-06-20,body_mass,70,kg,1\n")
    decide(
        camp.root,
        [str(camp.rows("select group_id from held_row")[0][0])],
        Answer(action="assign", who="Ira", why="nickname", argument="T1"),
    )
    camp.take("b.csv", LONG + "Nobody Known,2032-06-21,body_mass,70.2,kg,1\n")
    assert camp.rows("select count(*) from reading where athlete_id = 'T1'") == [(2,)]
    assert camp.rows("select alias, origin from alias where athlete_id = 'T1' order by 1") == [
        ("Arlo F.", "roster"), ("Nobody Known", "decision")
    ]  # fmt: skip


@rows_only
def test_two_stays_at_one_camp_are_two(camp: Camp) -> None:
    rows = "T1,K,2032-06-01,2032-06-20\nT1,K,2032-07-01,2032-07-20\nT1,K,2032-07-10,2032-07-30\n"
    outcome = camp.take("again.csv", "athlete,camp,arrived_on,left_on\n" + rows)
    assert (outcome.rows_taken, outcome.rows_held) == (2, 1)
    assert camp.rows("select stay_id, left_on::varchar from stay where athlete_id = 'T1' order by 1") == [
        ("T1@K", "2032-06-20"), ("T1@K/2", "2032-07-20")
    ]  # fmt: skip


@rows_only
def test_one_id_twice_in_a_roster_is_held(camp: Camp) -> None:
    outcome = camp.take("more.csv", "athlete_id,name\nT7,One Name\nT7,Other Name\n")
    assert (outcome.rows_taken, outcome.rows_held) == (1, 1)


@rows_only
def test_the_same_file_by_another_mapping_is_refused_until_withdrawn(camp: Camp) -> None:
    text = "who,day,speed\nT1,2032-06-20,80\n"
    mapping = (
        'name = "{0}"\nlayout = "wide"\n[columns]\nathlete = "who"\nmeasured_on = "day"\n'
        '[[values]]\nmeasure = "{0}"\ncolumns = ["speed"]\nunit = "mph"\n'
    )
    first = camp.take("velo.csv", text, camp.write("one.toml", mapping.format("exit_speed")))
    with pytest.raises(FileUnreadableError, match=r"is already imported as .* by another mapping"):
        camp.take("velo.csv", text, camp.write("two.toml", mapping.format("pitch_speed")))
    withdraw(camp.root, first.import_id, "Ira", "wrong measure")
    camp.take("velo.csv", text, camp.write("two.toml", mapping.format("pitch_speed")))
    assert camp.rows("select measure from reading") == [("pitch_speed",)]


@rows_only
def test_a_build_that_fails_takes_its_files_back(camp: Camp, monkeypatch: pytest.MonkeyPatch) -> None:
    camp.take("season.csv", season())
    before = sorted(str(p) for p in (camp.root / "landing").rglob("*"))

    def fail(*_: object) -> None:
        raise ZeroDivisionError("in a check")

    monkeypatch.setattr("latewood.pipeline.ingest.build.run.run_checks", fail)
    with pytest.raises(ZeroDivisionError):
        camp.take("more.csv", LONG + "T1,2032-08-10,body_mass,63.4,kg,1\n")
    assert sorted(str(p) for p in (camp.root / "landing").rglob("*")) == before


@rows_only
def test_files_go_only_into_a_data_folder_that_was_made(camp: Camp, tmp_path: Path) -> None:
    with pytest.raises(LandingError, match="is no data folder; make it with `latewood init"):
        import_files(tmp_path / "typo", [camp.write("a.csv", season())], "tester")
    assert not (tmp_path / "typo").exists()
