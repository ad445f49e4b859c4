"""Drawn plan starts as a steward goes through them: designed, drawn, analysed, kept, restored, erased."""

from __future__ import annotations

import json
import shutil
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import duckdb
import pytest
from typer.testing import CliRunner

from latewood.pipeline.care.backup import back_up
from latewood.pipeline.care.check import check_folder
from latewood.pipeline.care.erase import erase
from latewood.pipeline.care.restore import restore
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import DesignError, LandingError
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.logs.start_draws import LOG, Draw, read_log, write
from latewood.pipeline.ingest.plans import start_design
from latewood.pipeline.ingest.plans.start_design import Ask, declare, design
from latewood.pipeline.stats.change import protocol
from latewood.pipeline.stats.links.draw_order import drawn_groups
from latewood.pipeline.warehouse.connection import open_published
from tests.drawn_folder import AFTER, BEFORE, DRAWN, PLAN, STARTS, drawn_and_finished, waiting_for_a_draw
from tests.typed_command import latewood

ASK = Ask(camp_id="K", measure="exit_speed", starts=STARTS, per_kg=0.9 * 0.44704, kg_per_week=0.3)
WORDS = ("design", "--camp", "K", "--starts", ",".join(map(str, STARTS)), "--per-kg", 0.9, "--gain", 0.3)


@pytest.fixture(scope="module")
def waiting(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return waiting_for_a_draw(tmp_path_factory)


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return drawn_and_finished(tmp_path_factory)


@pytest.fixture
def mine(waiting: Path, tmp_path: Path) -> Path:
    shutil.copytree(waiting, tmp_path / "data")
    return tmp_path / "data"


@pytest.fixture
def over(finished: Path, tmp_path: Path) -> Path:
    shutil.copytree(finished, tmp_path / "data")
    return tmp_path / "data"


def ask(root: Path, sql: str) -> list[tuple]:
    with closing(open_published(root)) as connection:
        return connection.execute(sql).fetchall()


def told(root: Path) -> list[tuple]:
    return ask(root, "select * exclude (build_id) from staggered_link order by all")


def test_a_design_is_told_and_nothing_is_written(mine: Path) -> None:
    done = latewood(*WORDS, "--leave-out", "A03", "--data", mine)
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    assert (
        "With 23 athletes in 2 groups, 16 weeks and 9 test days, the chance to tell 0.90 mph per kg" in text
    )
    assert "(the number given) from zero is" in text
    assert "A03 (left out as asked)" in text
    assert "Y1 (under 14 on the first day, or no birth date)" in text
    assert "P1 (already on a plan); " in text or "P1 (already on a plan)." in text
    assert "M1 (no body mass yet)" in text
    assert "Nobody is asked to hold back food" in text
    assert "consent of athlete and guardian" in text
    assert "Nothing was drawn" in text
    assert not (mine / LOG).exists()


def test_a_draw_is_printed_kept_and_made_once(mine: Path) -> None:
    done = latewood(*WORDS, "--draw", "--by", "Ira", "--data", mine)
    assert done.returncode == 0, done.stderr
    (draw,) = read_log(mine)
    assert (draw.camp_id, draw.by, draw.starts) == ("K", "Ira", tuple(map(str, STARTS)))
    assert draw.athletes == DRAWN  # from the heaviest to the lightest
    groups = drawn_groups(24, 2, draw.seed)
    early = [a for a, g in zip(DRAWN, groups, strict=True) if g == 0]
    text = " ".join(done.stdout.split())
    assert f"{STARTS[0]}: {', '.join(early)} (12)" in text
    assert f"seed {draw.seed}" in text
    last = audit.lines(mine)[-1]
    assert (last.event, last.who, last.details["draw"], last.details["seed"]) == (
        "decision",
        "Ira",
        "K",
        draw.seed,
    )
    again = latewood(*WORDS, "--draw", "--by", "Ira", "--data", mine)
    assert again.returncode == 2
    assert "its starts were drawn already; a second draw would be a choice, keep to the first" in again.stderr
    assert read_log(mine) == (draw,)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("--starts", "2032-06-29"), "two or more different days in order are needed, like 2033-01-10,2033-02-21"),
        (("--starts", "2032-08-10,2032-06-29"), "two or more different days in order are needed"),
        (("--starts", "2032-06-29,soon"), "days with commas between, like"),
        (("--camp", "Q"), "camp 'Q' has no stays; import its stays, or name another camp"),
        (("--measure", "body_mass"), "measure 'body_mass': is no test of output; name one like exit_speed"),
        (("--measure", "bat_speed"), "has no sessions yet; import those of earlier camps first"),
        (("--every", "40"), "every 40 weeks: from half a week to the stay's 17 are accepted"),
        (("--leave-out", "Nobody"), "athlete 'Nobody' has no stay at camp K; see `latewood athletes`"),
        (("--starts", "2032-06-29,2032-11-29"), "nobody may be drawn (not in the draw: 26 not at the camp"),
        (
            ("--starts", "2032-06-29,2032-07-20,2032-08-10,2032-09-01"),
            "24 athletes for 4 groups: 8 in each are needed (not in the draw: 1",
        ),
        (("--gain", "0"), "--gain 0: above 0 and up to the program's ceiling for these athletes, 0.39 kg a week, are"),
        (("--gain", "0.4"), "--gain 0.4: above 0 and up to the program's ceiling for these athletes"),
        (("--gain", "nan"), "--gain nan: above 0 and up to"),
        (("--per-kg", "0"), "--per-kg 0: give the number that is to be shown to differ from zero"),
        (("--per-kg", "nan"), "--per-kg nan: give the number that is to be shown to differ from zero"),
        (("--starts", "2032-06-14,2032-08-10", "--draw"), "is past; a draw is made before anybody begins: name later"),
    ],
)  # fmt: skip
def test_a_refusal_names_what_to_mend(waiting: Path, change: tuple[str, ...], words: str) -> None:
    done = CliRunner().invoke(app, [str(word) for word in (*WORDS, *change, "--data", waiting)])
    assert isinstance(done.exception, DesignError), done.output
    assert words in str(done.exception)
    assert "\n" not in str(done.exception)
    assert not (waiting / LOG).exists()


def test_whoever_has_a_plan_that_waits_for_an_answer_is_not_drawn(mine: Path) -> None:
    text = (
        PLAN + "P2,A00,2032-06-05,72,2032-08-12,73,kg,strength,Fen,guardian,\n"
    )  # the weigh-ins say about 90
    (mine / "plans_far.csv").write_text(text, encoding="utf-8")
    taken = latewood("import", mine / "plans_far.csv", "--data", mine)
    assert taken.returncode == 0, taken.stderr
    assert "A00 (with a plan that waits for an answer)" in latewood(*WORDS, "--data", mine).stdout


def test_before_athletes_were_tested_three_times_the_program_has_no_number_per_kg(waiting: Path) -> None:
    with pytest.raises(
        DesignError, match=r"no number per kg yet \(0 athletes with three sessions .*\); give one by --per-kg"
    ):
        design(waiting, Ask(camp_id="K", measure="exit_speed", starts=STARTS))


def test_without_one_given_the_programs_own_number_per_kg_is_asked_about(
    waiting: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with duckdb.connect() as connection:
        connection.execute(
            "create table mass_link as select 'program' as scope, 'time' as adjustment, 'exit_speed' as measure, "
            "'l' as line, 0.4 as per_kg, '' as reason"
        )
        own = start_design._own_link(connection, load_catalogue().measures["exit_speed"], "l")
    monkeypatch.setattr(start_design, "_own_link", lambda *_: own)
    result = design(waiting, Ask(camp_id="K", measure="exit_speed", starts=STARTS))
    assert result.own_link
    assert result.found.per_kg == own == 0.4


@pytest.mark.parametrize(("rows", "why"), [("where false", "yet; give"), ("", r"yet \(few\); give")])
def test_where_the_program_has_no_number_per_kg_one_has_to_be_given(rows: str, why: str) -> None:
    with duckdb.connect() as connection:
        connection.execute(
            "create table mass_link as select 'program' as scope, 'time' as adjustment, 'exit_speed' as measure, "
            f"'l' as line, null as per_kg, 'few' as reason {rows}"
        )
        with pytest.raises(
            DesignError, match=rf"Exit speed: the program has no number per kg {why} one by --per-kg"
        ):
            start_design._own_link(connection, load_catalogue().measures["exit_speed"], "l")


def test_what_was_planted_is_told_when_the_camp_is_over(finished: Path) -> None:
    rows = ask(
        finished,
        "select verdict, reason, per_kg / 0.44704, low / 0.44704, high / 0.44704, kg_per_week, n_athletes, n_groups, "
        "n_as_drawn from staggered_link",
    )
    ((verdict, reason, per_kg, low, high, kg_per_week, *counts),) = rows
    assert (verdict, reason) == ("estimated", "")
    assert low < 0.9 < high
    assert per_kg == pytest.approx(0.9, abs=0.3)
    assert kg_per_week == pytest.approx(0.35, abs=0.1)
    assert counts == [24, 2, 24]
    drawn = ask(finished, "select athlete_id, start_on, seed from start_draw order by place")
    (draw,) = read_log(finished)
    assert [(a, on) for a, on, _ in drawn] == list(draw.start_of())
    assert {seed for _, _, seed in drawn} == {draw.seed}


def test_a_build_without_a_draw_tells_nothing(waiting: Path) -> None:
    assert told(waiting) == []


def test_a_draw_made_or_changed_calls_for_a_build(mine: Path) -> None:
    before = ask(mine, "select count(*) from start_draw")
    declare(mine, design(mine, ASK), "Ira")
    build(mine)
    assert (before, ask(mine, "select count(*) from start_draw")) == ([(0,)], [(24,)])


def test_another_seed_would_be_another_number(over: Path) -> None:
    """What the file says is what counts: groups are drawn again from the seed at every build."""
    before = told(over)
    (record,) = [json.loads(line) for line in (over / LOG).read_text().splitlines()]
    (over / LOG).write_text(json.dumps({**record, "seed": record["seed"] + 1}) + "\n")
    build(over)
    assert told(over) != before
    assert any("the draw of camp K was changed or taken out" in f.what for f in check_folder(over))


def test_check_is_content_with_a_draw_and_tells_days_that_were_changed(over: Path) -> None:
    assert check_folder(over) == ()
    text = (over / LOG).read_text()
    (over / LOG).write_text(text.replace(str(STARTS[1]), "2032-08-11"))
    assert any("the draw of camp K was changed or taken out" in f.what for f in check_folder(over))
    (over / LOG).write_text(text.replace("{", "[", 1))
    assert any("start_draws.jsonl, line 1: cannot be read" in str(f) for f in check_folder(over))


def test_a_draw_that_is_taken_out_is_told_and_cannot_be_made_again(mine: Path) -> None:
    declare(mine, design(mine, ASK), "Ira")
    (mine / LOG).unlink()
    assert [f.what for f in check_folder(mine) if f.area == "drawn starts"] == [
        "the draw of camp K was changed or taken out after it was made"
    ]
    with pytest.raises(DesignError, match="its starts were drawn already"):
        declare(mine, design(mine, ASK), "Ira")


def test_a_draw_whose_line_of_the_audit_log_a_crash_took_is_logged_by_the_next(mine: Path) -> None:
    record = {"camp_id": "K", "seed": 1, "starts": [str(one) for one in STARTS], "athletes": list(DRAWN)}
    (mine / LOG).write_text(json.dumps({**record, "at": "2032-06-24T08:00:00", "by": "Ira"}) + "\n")
    (result,) = (f for f in check_folder(mine) if f.area == "drawn starts")
    assert (result.wrong, result.mend) == (False, "the next one adds it")
    with pytest.raises(DesignError, match="its starts were drawn already"):
        declare(mine, design(mine, ASK), "Ira")
    assert (audit.lines(mine)[-1].details["draw"], audit.lines(mine)[-1].details["late"]) == ("K", True)
    assert [f for f in check_folder(mine) if f.area == "drawn starts"] == []
    text = (mine / LOG).read_text()
    other = json.dumps({**record, "camp_id": "L", "at": "", "by": ""}) + "\n"
    (mine / LOG).write_text(text + other + other.replace('"L"', '"M"'))
    assert [f.what for f in check_folder(mine) if f.wrong] == [
        "the draw of camp L does not stand in the audit log",
        "start_draws.jsonl, line 1: was not written by this tool",
        "start_draws.jsonl, line 2: was not written by this tool",
    ]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"seed": "x"}, "line 1: is not a draw"),
        (
            {"starts": ["2032-08-10", "2032-06-29"]},
            "line 1: two or more different days in order and athletes",
        ),
        ({"athletes": []}, "line 1: two or more different days in order and athletes"),
        ({"starts": ["2032-08-10", "then"]}, "line 1: is not a draw"),
    ],
)
def test_a_line_that_is_no_draw_is_named(tmp_path: Path, change: dict, words: str) -> None:
    record = {
        "camp_id": "K",
        "seed": 1,
        "starts": ["2032-06-29", "2032-08-10"],
        "athletes": ["a"],
        "at": "",
        "by": "",
    }
    (tmp_path / LOG).write_text(json.dumps(record) + "\n")
    assert len(read_log(tmp_path)) == 1
    (tmp_path / LOG).write_text(json.dumps({**record, **change}) + "\n")
    with pytest.raises(LandingError, match=words):
        read_log(tmp_path)


def test_a_backup_brings_the_draw_back_and_the_same_numbers(over: Path, tmp_path: Path) -> None:
    back_up(over, tmp_path / "b.zip", "Ira")
    restore(tmp_path / "b.zip", tmp_path / "other", "Ira", nobody_erased=True)
    assert read_log(tmp_path / "other") == read_log(over) != ()
    assert told(tmp_path / "other") == told(over) != []
    assert check_folder(tmp_path / "other") == ()


def test_an_erased_athlete_leaves_the_draw_and_the_others_keep_their_starts(over: Path) -> None:
    before = dict(read_log(over)[0].start_of())
    erase(over, "A05", "Odalys")
    (draw,) = read_log(over)
    assert draw.athletes[5] == "" and len(draw.athletes) == 24
    assert {a: on for a, on in draw.start_of() if a} == {a: on for a, on in before.items() if a != "A05"}
    assert "A05" not in (over / LOG).read_text()
    assert ask(over, "select place from start_draw where athlete_id is null") == [(5,)]
    ((n, verdict),) = ask(over, "select n_athletes, verdict from staggered_link")
    assert (n, verdict) == (23, "estimated")
    assert [f for f in check_folder(over) if f.wrong] == []


def test_test_days_are_planned_from_the_noise_of_the_camp(
    waiting: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(protocol, "CAMPS", 1)
    done = latewood("protocol", "--camp", "K", "--every", 2, "--twice", "--data", waiting)
    assert done.returncode == 0, done.stderr
    text = " ".join(done.stdout.split())
    assert "differ by a typical error of" in text and "give or take" in text
    silly = latewood("protocol", "--camp", "K", "--every", 0, "--data", waiting)
    assert silly.returncode != 0
    assert text.count("minutes an athlete") == 2 and "every 2 weeks" in text and "twice at intake" in text
    missing = latewood("protocol", "--camp", "nowhere", "--data", waiting)
    assert missing.returncode != 0 and "name another camp or measure" in missing.stderr


def test_a_first_start_that_is_today_may_still_be_drawn(mine: Path) -> None:
    draw = Draw(camp_id="K", seed=5, starts=(BEFORE, AFTER), athletes=DRAWN)
    with pytest.raises(DesignError, match=r"the first start, 2032-06-23, is past"):
        write(mine, replace(draw, starts=(BEFORE.replace(day=23), AFTER)), "Ira")
    assert write(mine, draw, "Ira").seed == 5
