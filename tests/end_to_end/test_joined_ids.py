"""Two ids of one athlete are joined: the same as if all had come under one id, and taken back as if never joined."""

from __future__ import annotations

import shutil
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from latewood.pipeline.care.check import check_folder
from latewood.pipeline.care.erase import erase
from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import DecisionError, SummaryError
from latewood.pipeline.ingest.actions import decide, import_files, land_files, reopen
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY, RECRUITING, Consent
from latewood.pipeline.ingest.joining import join, preview
from latewood.pipeline.ingest.logs import audit, case_words, entered, focus, planlog
from latewood.pipeline.ingest.logs.decisions import Answer, read
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.warehouse.connection import open_published
from tests.conftest import CAMPS, PROGRAM, ROSTER, STAYS, Camp, without_fits
from tests.shared import shared
from tests.typed import type_in

OTHER, NAME = "ARL-77", "Arlo Fernmos"  # T1 of the first roster, once more with a typing error
START = date(2032, 6, 2)
SECOND_CAMP = (
    "camp_id,label,starts_on,ends_on,time_zone,place\n"
    "M,Marsh camp,2031-06-01,2031-08-01,America/Chicago,Hall\n"
)
HELD = "2032-07-01"
NOT_COMPARED = {"import", "import_log", "build_log", "decision", "joined_name", "alias", "recognised_row"}
PLACES = ("import_id", "imports", "held_id", "group_id", "first_import_id", "made_at")


def roster(athlete: str, name: str, more: str = "2016-03-01,male,baseball,2034,,R,R") -> str:
    return f"athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws\n{athlete},{name},{more}\n"


def weeks_of(athlete: str, *, late: bool) -> str:
    """Weigh-ins and two tests of an athlete on odd or on even weeks, beside others who were there all along."""
    lines = ["athlete,measured_on,measure,value,unit,trial,device"]
    for week in range(1 if late else 0, 9, 2):
        on = START + timedelta(weeks=week)
        who = {athlete: 70.0, **({} if late else {"T2": 80.0, "T4": 66.0})}
        for one, kg in who.items():
            lines.append(f"{one},{on},body_mass,{kg + 0.2 * week:.1f},kg,1,")
            lines += [
                f"{one},{on},countermovement_jump,{40 + 0.3 * week + t / 2:.1f},cm,{t},mat" for t in (1, 2)
            ]
    return "\n".join(lines) + "\n"


def made(folder: Path, second: str, name: str) -> Camp:
    """The camp whose second roster, earlier camp and odd weeks came under `second` and under `name`."""
    one = Camp(root=folder / "data", inbox=folder / "inbox")
    prepare_folder(one.root)
    (one.root / "program.toml").write_text(PROGRAM, encoding="utf-8")
    stays = f"athlete,camp,arrived_on,left_on\n{second},M,2031-06-01,2031-08-01\n"
    files = {
        "second_roster.csv": roster(second, name), "roster.csv": ROSTER, "camps.csv": CAMPS, "marsh.csv": SECOND_CAMP,
        "stays.csv": STAYS, "marsh_stays.csv": stays, "even.csv": weeks_of("T1", late=False),
        "odd.csv": weeks_of(second, late=True),
        "named.csv": f"athlete,measured_on,measure,value,unit\n{name},{HELD},throw_speed,71,mph\n",
        "misspelt.csv": "athlete,measured_on,measure,value,unit\nAF,2032-07-03,throw_speed,72,mph\n",
    }  # fmt: skip
    land_files(one.root, [one.write(key, text) for key, text in files.items()], "tester")
    build(one.root)
    return one


def tables(camp: Camp) -> dict[str, pd.DataFrame]:
    """Every table but those about the build, files by their place."""
    result = {}
    with open_published(camp.root) as connection:
        names = [row[0] for row in connection.execute("show tables").fetchall()]
        for name in sorted(set(names) - NOT_COMPARED):
            frame = connection.execute(f"select * from {name}").df()
            frame = frame.drop(columns=[c for c in (*PLACES, "build_id") if c in frame])
            result[name] = frame.sort_values(
                list(frame.columns), ignore_index=True, key=lambda c: c.astype(str)
            )
    return result


def same(ours: dict[str, pd.DataFrame], theirs: dict[str, pd.DataFrame]) -> None:
    assert ours.keys() == theirs.keys()
    for name, frame in ours.items():
        pd.testing.assert_frame_equal(frame, theirs[name], obj=name)


def type_mass(root: Path, day: date) -> entered.TypedEntry:
    return type_in(
        root, by="Ira", athlete_id=OTHER, measure="body_mass", measured_on=day, value="72.0", unit="kg"
    )


ONE = Answer(action="join", who="Ira", why="one athlete on two rosters")


@pytest.fixture(scope="session")
def two_ids(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shared(tmp_path_factory, "two-ids", lambda base: made(base, OTHER, NAME).root)


@pytest.fixture
def camp(two_ids: Path, tmp_path: Path) -> Camp:
    shutil.copytree(two_ids, tmp_path / "data")
    return Camp(root=tmp_path / "data", inbox=tmp_path / "inbox")


def test_joined_is_as_if_all_had_come_under_one_id_and_taken_back_is_as_before(
    camp: Camp, tmp_path: Path
) -> None:
    before = tables(camp)
    held = camp.rows("select held_id from held_row where athlete_text = 'AF'")[0][0]
    decide(
        camp.root,
        [held],
        Answer(action="assign", who="Ira", why="his initials", argument=OTHER),
        build_after=False,
    )
    join(camp.root, OTHER, "T1", ONE)
    once = made(tmp_path / "once", "T1", "Arlo Fernmoss")
    asked = once.rows("select held_id from held_row where athlete_text = 'AF'")[0][0]
    decide(once.root, [asked], Answer(action="assign", who="Ira", why="his initials", argument="T1"))
    same(tables(camp), tables(once))
    assert camp.rows("select count(*) from reading where athlete_id = 'T1' and measure = 'throw_speed'") == [
        (2,)
    ]
    aliases = {(a, "joined") for a in (OTHER, NAME)} | {("Arlo F.", "roster"), ("AF", "decision")}
    assert set(camp.rows("select alias, origin from alias")) == aliases
    reopen(camp.root, [OTHER, held], Answer(action="reopen", who="Ira", why="two athletes after all"))
    same(tables(camp), before)
    assert not [one for one in check_folder(camp.root) if one.wrong]


def test_what_was_logged_under_the_other_id_follows_and_goes_back(camp: Camp) -> None:
    day = date(2032, 8, 20)
    typed = type_mass(camp.root, day)
    draft = focus.NewFocus(
        athlete_id=OTHER, text="land softly", measure="countermovement_jump", review_on=date(2032, 9, 9)
    )
    focus.write(camp.root, draft, "Ira")
    planlog.hide_mass(camp.root, OTHER, "Ira", hidden=True)
    noted = planlog.NewPlanDecision(
        plan_id="P", athlete_id=OTHER, decision=planlog.KEEP, review_on=date(2032, 9, 9), note="goes well", seen={}
    )  # fmt: skip
    planlog.record_decision(camp.root, noted, "Ira")
    draft = case_words.NewWords(
        athlete_id=OTHER, stay_id=f"{OTHER}@M", part=case_words.NEXT, text="come back"
    )
    case_words.write(camp.root, draft, "Ira")
    assert focus.of_athlete(camp.root, "T1") == ()
    assert case_words.in_force(camp.root, "T1@M") == {}
    with without_fits():
        join(camp.root, OTHER, "T1", ONE)
    assert [one.text for one in focus.of_athlete(camp.root, "T1")] == ["land softly"]
    assert case_words.in_force(camp.root, "T1@M")[case_words.NEXT].text == "come back"
    assert "T1" in planlog.hidden_masses(planlog.current_log(camp.root))
    assert [one.athlete_id for one in entered.current_entries(camp.root, day)] == ["T1"]
    assert entered.times_emptied(camp.root, day) == {}
    entered.take_back(camp.root, typed, "Ira")
    assert list(entered.times_emptied(camp.root, day)) == [("T1", "body_mass", 1)]
    assert camp.rows("select athlete_id, decision from plan_decision") == [("T1", "keep")]
    with without_fits():
        reopen(camp.root, [OTHER], Answer(action="reopen", who="Ira", why="two athletes"))
    assert focus.of_athlete(camp.root, "T1") == ()
    assert case_words.in_force(camp.root, "T1@M") == {}
    assert planlog.hidden_masses(planlog.current_log(camp.root)) == {OTHER}
    assert camp.rows("select athlete_id from plan_decision") == [(OTHER,)]


def consent(athlete: str, **more: object) -> Consent:
    given = {
        "athlete_id": athlete, "given_by": "guardian", "given_on": date(2032, 6, 1), "expires_on": date(2032, 12, 1),
        "fields": ("positions", "height"), "measures": ("all",), "photo": True, "projection": True, "reference": "",
        **more,
    }  # fmt: skip
    return Consent(**given)  # type: ignore[arg-type]


def test_of_two_consents_the_strictest_holds_until_a_new_one_is_given(camp: Camp) -> None:
    root = camp.root
    consent_book.record(root, consent("T1", expires_on=date(2032, 11, 1)), "Ira")
    consent_book.record(
        root, consent(OTHER, fields=("height",), measures=("exit_speed",), photo=False), "Ira"
    )
    join(root, OTHER, "T1", ONE, build_after=False)  # counts at once, before any build
    for athlete in ("T1", OTHER):
        one = consent_book.standing(root).by_athlete[athlete]
        assert (one.fields, one.measures, one.photo, one.expires_on) == (
            ("height",),
            ("exit_speed",),
            False,
            date(2032, 11, 1),
        )
    with without_fits():
        build(root)
    assert consent_book.standing(root).by_athlete["T1"].measures == ("exit_speed",)
    consent_book.record(root, consent("T1", given_on=date(2032, 8, 20)), "Ira")
    assert consent_book.standing(root).by_athlete["T1"].measures == ("all",)
    reopen(root, [OTHER], Answer(action="reopen", who="Ira", why="two athletes"), build_after=False)
    still = consent_book.standing(root).by_athlete  # the build that is published holds both
    assert still["T1"].measures == ("exit_speed",)
    with without_fits():
        build(root)
    apart = consent_book.standing(root).by_athlete
    assert (apart["T1"].measures, apart[OTHER].measures) == (("all",), ("exit_speed",))


def test_a_withdrawal_of_either_is_one_of_both(camp: Camp) -> None:
    root = camp.root
    for athlete in ("T1", OTHER):
        for purpose in (RECRUITING, FAMILY):
            consent_book.record(root, consent(athlete, purpose=purpose), "Ira")
    consent_book.withdraw(root, OTHER, "Ira")
    with without_fits():
        join(root, OTHER, "T1", ONE)
    assert "withdrawn" in consent_book.refusals(root)["T1"]
    assert consent_book.refusals(root, FAMILY)["T1"] == ""
    consent_book.withdraw(root, "T1", "Ira", FAMILY)
    with without_fits():
        reopen(root, [OTHER], Answer(action="reopen", who="Ira", why="two athletes"))
    assert {bool(consent_book.refusals(root, FAMILY)[one]) for one in ("T1", OTHER)} == {True}
    assert consent_book.refusals(root)["T1"] == ""


def test_a_file_that_consents_for_both_ids_is_read_as_it_was(camp: Camp) -> None:
    head = "athlete,given_by,given_on,fields,measures\n"
    rows = f"T1,guardian,2032-06-01,all,all\n{OTHER},guardian,2032-06-01,height,all\n"
    import_files(camp.root, [camp.write("consents.csv", head + rows)], "Ira")
    with without_fits():
        join(camp.root, OTHER, "T1", ONE)
    assert camp.rows("select count(*) from held_row where rule = 'people_row'") == [(0,)]
    assert consent_book.standing(camp.root).by_athlete["T1"].fields == ("height",)


def test_who_cannot_be_one_athlete_is_refused(camp: Camp) -> None:
    with without_fits():
        plan = "plan_id,athlete,start_on,start_mass,target_on,target_mass,unit,approved_by\n"
        rows = [
            f"P{n},{who},2032-06-05,80,2032-10-05,82,kg,A Guardian\n" for n, who in enumerate(("T2", "W-1"))
        ]
        files = {
            "b.csv": roster("B-1", "Bo Marl", "2015-03-01,male,baseball,2034,,R,R"),
            "s.csv": roster("S-1", "Sil Marl", "2016-03-01,female,softball,2034,,R,R"),
            "o.csv": roster("O-1", "Ode Marl"),
            "w.csv": roster("W-1", "Wim Marl", "2015-07-15,male,baseball,2033,,R,R"),
            "fen.csv": SECOND_CAMP.replace("M,Marsh", "N,Fen").replace("2031", "2032"),
            "ostays.csv": "athlete,camp,arrived_on,left_on\nO-1,N,2032-07-01,2032-07-09\n",
            "plans.csv": plan + "".join(rows),
        }  # fmt: skip
        land_files(camp.root, [camp.write(key, text) for key, text in files.items()], "tester")
        build(camp.root)
    for joined, into, words in (
        ("B-1", "T1", "birth dates differ"), ("S-1", "T1", "sexes differ"), ("O-1", "T1", "two camps at once"),
        ("W-1", "T2", "open weight plan"), ("nobody", "T1", "not on any roster"), ("T1", "nobody", "not on any roster"),
        ("T1", "T1", "are the same"),
    ):  # fmt: skip
        with pytest.raises(DecisionError, match=words) as refused:
            join(camp.root, joined, into, ONE)
        assert "\n" not in str(refused.value) and (";" in str(refused.value))
    assert read(camp.root / "decisions.jsonl") == []
    join(camp.root, OTHER, "T1", ONE, build_after=False)
    for joined, into, words in (
        (OTHER, "O-1", "joined into T1 already"),
        ("T1", OTHER, "circle"),
        ("O-1", OTHER, "join O-1 into"),
    ):
        with pytest.raises(DecisionError, match=words):
            join(camp.root, joined, into, ONE)
    with without_fits():
        build(camp.root)
    reopen(camp.root, [OTHER], Answer(action="reopen", who="Ira", why="no"), build_after=False)
    with pytest.raises(DecisionError, match="latewood build"):
        preview(camp.root, OTHER, "T1")


def test_a_roster_that_comes_later_and_contradicts_is_held(camp: Camp) -> None:
    with without_fits():
        join(camp.root, OTHER, "T1", ONE)
        import_files(
            camp.root, [camp.write("l.csv", roster(OTHER, NAME, "2012-03-01,male,baseball,2034,,R,R"))], "Ira"
        )
    assert camp.rows("select field, state from held_row where rule = 'people_row'") == [
        ("birth_date", "open")
    ]
    assert camp.rows("select birth_date::varchar from athlete where athlete_id = 'T1'") == [("2016-03-01",)]


def test_erasing_one_erases_both(camp: Camp) -> None:
    root = camp.root
    type_mass(root, date(2032, 8, 20))
    tokens = [audit.subject(root, one) for one in ("T1", OTHER)]
    with without_fits():
        join(root, OTHER, "T1", Answer(action="join", who="Ira", why=f"{NAME} is Arlo"))
        with pytest.raises(SummaryError, match="erase T1, which erases both"):
            erase(root, OTHER, "Ira")
        erase(root, "T1", "Ira")
    left = [
        p
        for p in root.rglob("*")
        if p.is_file() and any(w.encode() in p.read_bytes() for w in (OTHER, NAME, "Fernmoss"))
    ]
    assert left == []
    assert camp.rows("select athlete_id from athlete order by 1") == [("T2",), ("T3",), ("T4",), ("T5",)]
    listed = (root / "landing" / "erasures.jsonl").read_text(encoding="utf-8")
    assert all(one in listed for one in tokens) and not set(tokens) & set(audit.subjects(root).values())


def test_after_a_join_was_taken_back_each_is_erased_alone(camp: Camp) -> None:
    with without_fits():
        join(camp.root, OTHER, "T1", ONE)
        reopen(camp.root, [OTHER], Answer(action="reopen", who="Ira", why="two"), build_after=False)
        erase(camp.root, "T1", "Ira")
    assert camp.rows(f"select display_name from athlete where athlete_id = '{OTHER}'") == [(NAME,)]
    assert camp.rows(
        "select count(*) > 0 from reading where athlete_id <> 'T2' and measure = 'body_mass'"
    ) == [(True,)]


def test_the_commands_show_join_list_and_take_back(camp: Camp) -> None:
    def run(*words: str) -> str:
        result = CliRunner().invoke(app, [*words, "--data", str(camp.root)], catch_exceptions=False)
        assert result.exit_code == 0
        return result.output

    with without_fits():
        assert "Nothing was changed" in run("join", OTHER, "T1")
        assert read(camp.root / "decisions.jsonl") == []
        assert f"{OTHER} is read as T1" in run("join", OTHER, "T1", "--by", "Ira", "--reason", "one athlete")
        (one,) = read(camp.root / "decisions.jsonl")
        assert one.decision_id in run("decisions")
        run("decide", "reopen", one.decision_id, "--why", "two athletes", "--by", "Ira")
    assert [(d.action, list(d.targets)) for d in read(camp.root / "decisions.jsonl")] == [
        ("join", [OTHER]),
        ("reopen", [OTHER]),
    ]
    assert camp.rows(f"select count(*) from athlete where athlete_id = '{OTHER}'") == [(1,)]


def test_a_plan_that_waits_twice_after_a_join_is_asked_about_once(camp: Camp) -> None:
    plans = "plan_id,athlete,start_on,start_mass,target_on,target_mass,unit,approved_by\n" + "".join(
        f"P{n},{who},2032-06-05,70,2032-10-05,72,kg,A Guardian\n" for n, who in enumerate(("T2", "W-1"))
    )
    wim = roster("W-1", "Wim Marl", "2015-07-15,male,baseball,2033,,R,R")
    with without_fits():
        import_files(camp.root, [camp.write("w.csv", wim), camp.write("plans.csv", plans)], "tester")
        assert camp.rows("select rule from held_row where rule like 'plan%'") == [("plan_start",)]
        held = camp.rows("select held_id from held_row where rule = 'plan_start'")[0][0]
        decide(camp.root, [held], Answer(action="reject", who="Ira", why="typed for somebody else"))
        join(camp.root, "W-1", "T2", ONE)
    rules = camp.rows("select rule, state from held_row where rule like 'plan%' order by all")
    assert rules == [("plan_start", "open"), ("plan_start", "rejected")]
