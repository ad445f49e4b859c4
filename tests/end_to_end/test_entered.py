"""Values, plans and decisions typed on a screen reach the warehouse as any import does, and leave it so."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from latewood.pipeline.errors import DecisionError, LandingError
from latewood.pipeline.ingest.actions import decide, withdraw
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.ingest.logs.entered import all_imports, current_entries, enter, take_back
from latewood.pipeline.ingest.logs.planlog import (
    NewPlanDecision,
    hidden_masses,
    hide_mass,
    read_allowed,
    read_log,
    record_decision,
    without_refused,
)
from latewood.pipeline.ingest.plans.plan_forms import PlanDraft, save_plan
from tests.conftest import LONG, Camp, small_camp
from tests.typed import type_in, typed_value

TODAY = date(2032, 8, 20)
FIRST = date(2032, 6, 2)
rows_only = pytest.mark.usefixtures("rows_only")
MASS = LONG + "".join(
    f"T1,{FIRST + timedelta(days=day)},body_mass,{72 + 0.02 * day:.1f},kg,1\n" for day in range(70)
)
DRAFT = PlanDraft(
    plan_id="", athlete_id="T1", start_on=date(2032, 7, 1), start_kg=72.5, target_on=date(2032, 9, 9),
    target_kg=74.5, purpose="strength", guardian="Ilse Fenwood", reason="",
)  # fmt: skip


@pytest.fixture(scope="module")
def first_weighed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("weighed")
    small_camp(folder).take("mass.csv", MASS)
    return folder


@pytest.fixture
def weighed(first_weighed: Path, tmp_path: Path) -> Camp:
    """A camp in which T1 was weighed on seventy days (72.6 kg on 1 July), to be written to."""
    folder = Path(shutil.copytree(first_weighed, tmp_path / "weighed"))
    return Camp(root=folder / "data", inbox=folder / "inbox")


def weigh(camp: Camp, value: str, athlete: str = "T1", day: date = date(2032, 8, 14)):
    return type_in(
        camp.root, by="Sage", athlete_id=athlete, measure="body_mass", measured_on=day, value=value, unit="kg"
    )


def masses(camp: Camp, day: str = "2032-08-14") -> list[tuple]:
    return camp.rows(f"select value from reading where measure = 'body_mass' and measured_on = date '{day}'")


@rows_only
def test_a_typed_value_is_an_import_with_who_and_when(weighed: Camp) -> None:
    weigh(weighed, "73.4")
    before = read_inputs(weighed.root).build_id
    build(weighed.root)
    assert masses(weighed) == [(73.4,)]
    result = weighed.rows(
        "select file_name, received_by, rows_in, rows_taken from import where kind = 'readings'"
    )
    assert ("Typed on 2032-08-20", "Sage", 1, 1) in result
    assert read_inputs(weighed.root).build_id == before
    weigh(weighed, "70.2", athlete="T2")
    assert read_inputs(weighed.root).build_id != before


@rows_only
def test_a_slip_is_held_by_the_build_even_where_it_was_confirmed(weighed: Camp) -> None:
    weigh(weighed, "83.4")
    build(weighed.root)
    assert masses(weighed) == []
    held = weighed.rows("select held_id, rule, raw_value from held_row where state = 'open'")
    assert [(rule, raw) for _, rule, raw in held] == [("impossible_jump", "83.4")]
    decide(
        weighed.root, [held[0][0]], Answer(action="mend", who="Sage", why="slip of the finger", value="73.4")
    )
    assert masses(weighed) == [(73.4,)]


@rows_only
def test_taken_back_a_value_no_longer_counts_and_stays_on_record(weighed: Camp) -> None:
    entry = weigh(weighed, "73.4")
    weigh(weighed, "70.2", athlete="T2")
    take_back(weighed.root, entry, "Sage")
    assert [one.athlete_id for one in current_entries(weighed.root, TODAY)] == ["T2"]
    build(weighed.root)
    assert masses(weighed) == [(70.2,)]
    assert (weighed.root / "entries" / "2032-08-20.jsonl").read_text().count("\n") == 3


@rows_only
def test_a_day_of_entries_can_be_withdrawn(weighed: Camp) -> None:
    weigh(weighed, "73.4")
    import_id = next(one.import_id for one in all_imports(weighed.root) if one.file_name.startswith("Typed"))
    withdraw(weighed.root, import_id, "Sage", "wrong scale")
    assert masses(weighed) == []
    with pytest.raises(DecisionError, match="was withdrawn before"):
        withdraw(weighed.root, import_id, "Sage", "again")


def test_a_file_of_entries_that_was_edited_is_refused(camp: Camp) -> None:
    weigh(camp, "73.4")
    path = camp.root / "entries" / "2032-08-20.jsonl"
    path.write_text("no json\n", encoding="utf-8")
    with pytest.raises(LandingError, match="line 1: cannot be read"):
        build(camp.root)


def test_nobody_enters_without_a_name(camp: Camp) -> None:
    with pytest.raises(DecisionError, match="who enters is not named"):
        enter(
            camp.root,
            typed_value(athlete_id="T1", measure="body_mass", measured_on=TODAY, value="73", unit="kg"),
            " ",
        )
    assert not list((camp.root / "entries").glob("*.jsonl"))


def test_a_plan_made_on_the_screen_is_reviewed_and_its_versions_are_kept(weighed: Camp) -> None:
    made = save_plan(weighed.root, DRAFT, "Fen")
    build(weighed.root)
    plan = "select version, target_kg, made_by from plan order by version"
    assert weighed.rows(plan) == [(1, 74.5, "Fen")]
    lower = replace(DRAFT, plan_id=made.plan_id, target_kg=74.0)
    save_plan(weighed.root, lower, "Fen")
    save_plan(weighed.root, replace(lower, ended_on=TODAY), "Fen")
    build(weighed.root)
    assert [row[:2] for row in weighed.rows(plan)] == [(1, 74.5), (2, 74.0), (3, 74.0)]
    assert weighed.rows("select count(*) from plan_review") == [(0,)]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"target_kg": 77.5}, "above the ceiling of 0.5 %"),
        ({"target_kg": 76.0}, "needs a written reason"),
        ({"guardian": ""}, "approval by the guardian"),
        ({"guardian": "I."}, "is no name"),
        ({"target_kg": 70.0}, "physician or dietitian"),
        ({"target_on": date(2032, 7, 1)}, "target date is not after the start"),
        ({"athlete_id": "nobody"}, "not on any roster"),
    ],
)
def test_a_plan_that_may_not_be_made_is_not_written(weighed: Camp, changed, said) -> None:
    with pytest.raises(DecisionError, match=said):
        save_plan(weighed.root, replace(DRAFT, **changed), "Fen")
    assert read_log(weighed.root) == ()


@rows_only
def test_no_plan_for_an_athlete_under_fourteen(camp: Camp) -> None:
    roster = "athlete_id,name,birth_date,sex,sport\nT9,Noor Sandfen,2019-03-01,female,softball\n"
    camp.take("more.csv", roster)
    with pytest.raises(DecisionError, match="younger than 14"):
        save_plan(camp.root, replace(DRAFT, athlete_id="T9"), "Fen")


def test_a_decision_is_kept_with_what_was_seen_and_with_what_came_after(weighed: Camp) -> None:
    plan = save_plan(weighed.root, DRAFT, "Fen")
    (weighed.root / "program.toml").write_text(
        'name = "Heath"\ntime_zone = "America/Chicago"\nclock = "2032-07-25"\n', encoding="utf-8"
    )
    record_decision(
        weighed.root,
        NewPlanDecision(
            plan_id=plan.plan_id,
            athlete_id="T1",
            decision="raise intake",
            review_on=date(2032, 8, 8),
            note="needs breakfast",
            seen={"status": "behind"},
        ),
        "Fen",
    )
    build(weighed.root)
    assert weighed.rows("select decision, decided_by, review_on, note from plan_decision") == [
        ("raise intake", "Fen", date(2032, 8, 8), "needs breakfast")
    ]
    before, after, n = weighed.rows("select rate_before, rate_after, n_after from plan_since")[0]
    assert n == 16
    assert before == pytest.approx(0.14, abs=0.04)
    assert after == pytest.approx(0.14, abs=0.04)
    assert read_log(weighed.root)[-1].facts["seen"] == {"status": "behind"}


KEPT = NewPlanDecision(
    plan_id="P", athlete_id="T1", decision="keep", review_on=date(2032, 9, 1), note="fine", seen={}
)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"decision": "starve"}, "is not one of"),
        ({"note": " "}, "needs a reason"),
        ({"review_on": TODAY}, "not after today"),
    ],
)
def test_an_incomplete_decision_is_refused(camp: Camp, changed, said) -> None:
    with pytest.raises(DecisionError, match=said):
        record_decision(camp.root, replace(KEPT, **changed), "Fen")


def test_nobody_decides_without_a_name(camp: Camp) -> None:
    with pytest.raises(DecisionError, match="not named"):
        record_decision(camp.root, KEPT, "")


def test_an_athlete_hides_his_mass_and_shows_it_again(camp: Camp) -> None:
    hide_mass(camp.root, "T1", "Fen", hidden=True)
    assert hidden_masses(read_log(camp.root)) == {"T1"}
    hide_mass(camp.root, "T1", "Fen", hidden=False)
    assert hidden_masses(read_log(camp.root)) == frozenset()


def test_the_ceiling_is_reckoned_from_the_trend_and_a_far_start_is_asked_back(weighed: Camp) -> None:
    """A start typed 9 lb too high once let 0.7 % of body mass a week pass as 0.1 %."""
    fast = replace(DRAFT, start_kg=76.7, target_kg=77.5)
    with pytest.raises(DecisionError, match=r"from the trend of the weigh-ins \(72.6 kg, 160.0 lb\)"):
        save_plan(weighed.root, fast, "Fen")
    with pytest.raises(DecisionError, match=r"needs 0\.68 % of body mass a week, above the ceiling"):
        save_plan(weighed.root, replace(fast, start_answer="weighed twice today"), "Fen")
    # Within 1 kg no question is asked, and the rate is still that from the trend.
    with pytest.raises(DecisionError, match=r"needs 0\.54 % of body mass a week, above the ceiling"):
        save_plan(weighed.root, replace(DRAFT, start_kg=73.4, target_kg=76.5), "Fen")
    assert read_log(weighed.root) == ()
    save_plan(weighed.root, replace(DRAFT, start_kg=71.4, start_answer="fasted, on the camp's scale"), "Fen")
    build(weighed.root)
    assert weighed.rows("select start_kg, start_answer from plan") == [(71.4, "fasted, on the camp's scale")]
    assert weighed.rows("select count(*) from held_row where rule = 'plan_start'") == [(0,)]


PLAN_HEAD = "plan_id,version,athlete,start_on,start_mass,target_on,target_mass,unit,approved_by,ended_on\n"


def test_a_plan_of_a_file_that_starts_far_from_the_trend_is_a_question(weighed: Camp) -> None:
    weighed.take("plans.csv", PLAN_HEAD + "P1,1,T1,2032-07-01,169.1,2032-09-09,170.9,lb,Ilse Fenwood,\n")
    assert weighed.rows("select count(*) from plan") == [(0,)]
    ((held, rule, reason, proposed),) = weighed.rows(
        "select held_id, rule, reason, proposed_text from held_row where state = 'open'"
    )
    assert (rule, proposed) == ("plan_start", "160.0 lb")
    assert reason == "start mass 169.1 lb is 9.1 lb from the trend of the weigh-ins (160.0 lb)"
    taken = "select rows_in, rows_taken, rows_held from import where kind = 'plans'"
    assert weighed.rows(taken) == [(1, 0, 1)]
    decide(weighed.root, [held], Answer(action="accept", who="Sage", why="weighed on another scale"))
    # Taken as it stands the plan is on record; its rate is reckoned from the trend all the same.
    assert weighed.rows("select start_kg * 2.20462 > 169 from plan") == [(True,)]
    assert "above the ceiling of 0.5 %" in weighed.rows("select reason from plan_review")[0][0]
    decide(weighed.root, [held], Answer(action="mend", who="Sage", why="typed wrong"))
    assert weighed.rows("select round(start_kg * 2.20462, 1) from plan") == [(160.0,)]
    assert weighed.rows(taken) == [(1, 1, 0)]
    with pytest.raises(DecisionError, match="corrected in the file"):
        decide(weighed.root, [held], Answer(action="assign", who="Sage", why="other", argument="T2"))


@rows_only
def test_an_athlete_has_one_plan_at_a_time(weighed: Camp) -> None:
    first = save_plan(weighed.root, DRAFT, "Fen")
    second = replace(DRAFT, target_kg=74.0)
    with pytest.raises(
        DecisionError, match=f"has plan {first.plan_id} until 2032-09-09; is this its next version"
    ):
        save_plan(weighed.root, second, "Fen")
    build(weighed.root)
    with pytest.raises(DecisionError, match="is this its next version"):
        save_plan(weighed.root, second, "Fen")
    save_plan(weighed.root, replace(second, plan_id=first.plan_id), "Fen")
    save_plan(weighed.root, replace(DRAFT, plan_id=first.plan_id, ended_on=TODAY), "Fen")
    assert save_plan(weighed.root, second, "Fen").plan_id != first.plan_id


@rows_only
def test_a_second_plan_in_a_file_is_held(weighed: Camp) -> None:
    weighed.take(
        "plans.csv",
        PLAN_HEAD
        + "P0,1,T1,2032-06-02,72.0,2032-06-30,72.4,kg,Ilse Fenwood,2032-06-30\n"
        + "P1,1,T1,2032-07-01,72.6,2032-09-09,74.5,kg,Ilse Fenwood,\n"
        + "P2,1,T1,2032-08-01,73.2,2032-09-20,74.5,kg,Ilse Fenwood,\n"
        + "P3,1,T2,2032-08-01,70.2,2032-09-20,71.5,kg,I.,\n",
    )
    assert weighed.rows("select plan_id from plan order by plan_id") == [("P0",), ("P1",)]
    held = weighed.rows("select held_id, rule, reason from held_row where state = 'open' order by rule")
    assert [row[1] for row in held] == ["people_row", "plan_second"]
    assert "'I.' is no name" in held[0][2]
    assert held[1][2] == "plan 'P2' runs beside plan 'P1' of the same athlete"
    with pytest.raises(DecisionError, match="cannot be taken as it is"):
        decide(weighed.root, [held[1][0]], Answer(action="accept", who="Sage", why="why not"))
    decide(weighed.root, [held[1][0]], Answer(action="reject", who="Sage", why="typed twice"))
    assert weighed.rows(
        "select rows_in, rows_taken, rows_held, rows_rejected from import where kind = 'plans'"
    ) == [(4, 2, 1, 1)]


def test_nobody_under_eighteen_is_told_to_eat_less(weighed: Camp) -> None:
    plan = save_plan(weighed.root, DRAFT, "Fen")
    lower = replace(KEPT, plan_id=plan.plan_id, decision="lower intake", note="gains too fast")
    with pytest.raises(DecisionError, match="nobody under 18 is told to eat less"):
        record_decision(weighed.root, lower, "Fen")
    record_decision(weighed.root, replace(lower, decision="slow the gain, with the dietitian"), "Fen")
    # One that stands on the log all the same, by an earlier version or another hand, is not taken up.
    path = weighed.root / "plan_log.jsonl"
    last = path.read_text(encoding="utf-8").splitlines()[-1]
    path.write_text(
        path.read_text(encoding="utf-8")
        + last.replace("slow the gain, with the dietitian", "lower intake")
        + "\n",
        encoding="utf-8",
    )
    build(weighed.root)
    assert weighed.rows("select decision from plan_decision") == [("slow the gain, with the dietitian",)]
    assert [one.kind for one in read_allowed(weighed.root)] == ["version", "decided", "refused"]
    born = {"T1": date(2000, 1, 1)}
    assert [one.kind for one in without_refused(read_log(weighed.root), born)] == [
        "version",
        "decided",
        "decided",
    ]
