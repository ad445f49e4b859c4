"""Values, plans and decisions typed on a screen reach the warehouse as any import does, and leave it so."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from pipeline.errors import DecisionError, LandingError
from pipeline.ingest.actions import decide, withdraw
from pipeline.ingest.build import build, read_inputs
from pipeline.ingest.entered import all_imports, enter, standing_entries, take_back
from pipeline.ingest.plan_forms import PlanDraft, save_plan
from pipeline.ingest.planlog import hidden_masses, hide_mass, read_log, record_decision
from tests.conftest import LONG, Camp
from tests.typed import type_in

TODAY = date(2032, 8, 20)
FIRST = date(2032, 6, 2)
MASS = LONG + "".join(
    f"T1,{FIRST + timedelta(days=day)},body_mass,{72 + 0.02 * day:.1f},kg,1\n" for day in range(70)
)
DRAFT = PlanDraft(
    plan_id="", athlete_id="T1", start_on=date(2032, 7, 1), start_kg=72.5, target_on=date(2032, 9, 9),
    target_kg=74.5, purpose="strength", approved_by="guardian", reason="",
)  # fmt: skip


def weigh(camp: Camp, value: str, athlete: str = "T1", day: date = date(2032, 8, 14)):
    return type_in(
        camp.root, by="Sage", athlete_id=athlete, measure="body_mass", measured_on=day, value=value, unit="kg"
    )


def masses(camp: Camp, day: str = "2032-08-14") -> list[tuple]:
    return camp.rows(f"select value from reading where measure = 'body_mass' and measured_on = date '{day}'")


def test_a_typed_value_is_an_import_with_who_and_when(camp: Camp) -> None:
    camp.take("mass.csv", MASS)
    weigh(camp, "73.4")
    before = read_inputs(camp.root).build_id
    build(camp.root)
    assert masses(camp) == [(73.4,)]
    found = camp.rows(
        "select file_name, received_by, rows_in, rows_taken from import where kind = 'readings'"
    )
    assert ("Typed on 2032-08-20", "Sage", 1, 1) in found
    assert read_inputs(camp.root).build_id == before
    weigh(camp, "70.2", athlete="T2")
    assert read_inputs(camp.root).build_id != before


def test_a_slip_is_held_by_the_build_even_where_it_was_confirmed(camp: Camp) -> None:
    camp.take("mass.csv", MASS)
    weigh(camp, "83.4")
    build(camp.root)
    assert masses(camp) == []
    held = camp.rows("select held_id, rule, raw_value from held_row where state = 'open'")
    assert [(rule, raw) for _, rule, raw in held] == [("impossible_jump", "83.4")]
    decide(camp.root, [held[0][0]], "mend", "Sage", "slip of the finger", value="73.4")
    assert masses(camp) == [(73.4,)]


def test_taken_back_a_value_no_longer_counts_and_stays_on_record(camp: Camp) -> None:
    camp.take("mass.csv", MASS)
    entry = weigh(camp, "73.4")
    weigh(camp, "70.2", athlete="T2")
    take_back(camp.root, entry, "Sage")
    assert [one.athlete_id for one in standing_entries(camp.root, TODAY)] == ["T2"]
    build(camp.root)
    assert masses(camp) == [(70.2,)]
    assert (camp.root / "entries" / "2032-08-20.jsonl").read_text().count("\n") == 3


def test_a_day_of_entries_can_be_withdrawn(camp: Camp) -> None:
    camp.take("mass.csv", MASS)
    weigh(camp, "73.4")
    import_id = next(one.import_id for one in all_imports(camp.root) if one.file_name.startswith("Typed"))
    withdraw(camp.root, import_id, "Sage", "wrong scale")
    assert masses(camp) == []
    with pytest.raises(DecisionError, match="was withdrawn before"):
        withdraw(camp.root, import_id, "Sage", "again")


def test_a_file_of_entries_that_was_edited_is_refused(camp: Camp) -> None:
    weigh(camp, "73.4")
    path = camp.root / "entries" / "2032-08-20.jsonl"
    path.write_text("no json\n", encoding="utf-8")
    with pytest.raises(LandingError, match="line 1: cannot be read"):
        build(camp.root)


def test_nobody_enters_without_a_name(camp: Camp) -> None:
    with pytest.raises(DecisionError, match="who enters is not named"):
        enter(
            camp.root, by=" ", athlete_id="T1", measure="body_mass", measured_on=TODAY, value="73", unit="kg"
        )
    assert not list((camp.root / "entries").glob("*.jsonl"))


def test_a_plan_made_on_the_screen_is_reviewed_and_its_versions_are_kept(camp: Camp) -> None:
    camp.take("mass.csv", MASS)
    made = save_plan(camp.root, DRAFT, "Fen")
    build(camp.root)
    plan = "select version, target_kg, made_by from plan order by version"
    assert camp.rows(plan) == [(1, 74.5, "Fen")]
    lower = replace(DRAFT, plan_id=made.plan_id, target_kg=74.0)
    save_plan(camp.root, lower, "Fen")
    save_plan(camp.root, replace(lower, ended_on=TODAY), "Fen")
    build(camp.root)
    assert [row[:2] for row in camp.rows(plan)] == [(1, 74.5), (2, 74.0), (3, 74.0)]
    assert camp.rows("select count(*) from plan_review") == [(0,)]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"target_kg": 77.0}, "above the ceiling of 0.5 %"),
        ({"target_kg": 76.0}, "needs a written reason"),
        ({"approved_by": ""}, "approval by the guardian"),
        ({"target_kg": 70.0}, "physician or dietitian"),
        ({"target_on": date(2032, 7, 1)}, "target date is not after the start"),
        ({"athlete_id": "nobody"}, "not on any roster"),
    ],
)
def test_a_plan_that_may_not_be_made_is_not_written(camp: Camp, changed, said) -> None:
    camp.take("mass.csv", MASS)
    with pytest.raises(DecisionError, match=said):
        save_plan(camp.root, replace(DRAFT, **changed), "Fen")
    assert read_log(camp.root) == ()


def test_no_plan_for_an_athlete_under_fourteen(camp: Camp) -> None:
    roster = "athlete_id,name,birth_date,sex,sport\nT9,Noor Sandfen,2019-03-01,female,softball\n"
    camp.take("more.csv", roster)
    with pytest.raises(DecisionError, match="younger than 14"):
        save_plan(camp.root, replace(DRAFT, athlete_id="T9"), "Fen")


def test_a_decision_is_kept_with_what_was_seen_and_with_what_came_after(camp: Camp) -> None:
    camp.take("mass.csv", MASS)
    plan = save_plan(camp.root, DRAFT, "Fen")
    (camp.root / "program.toml").write_text(
        'name = "Heath"\ntime_zone = "America/Chicago"\nclock = "2032-07-25"\n', encoding="utf-8"
    )
    record_decision(
        camp.root, plan_id=plan.plan_id, athlete_id="T1", decision="raise intake", by="Fen",
        review_on=date(2032, 8, 8), note="needs breakfast", seen={"status": "behind"},
    )  # fmt: skip
    build(camp.root)
    assert camp.rows("select decision, decided_by, review_on, note from plan_decision") == [
        ("raise intake", "Fen", date(2032, 8, 8), "needs breakfast")
    ]
    before, after, n = camp.rows("select rate_before, rate_after, n_after from plan_since")[0]
    assert n == 16
    assert before == pytest.approx(0.14, abs=0.04)
    assert after == pytest.approx(0.14, abs=0.04)
    assert read_log(camp.root)[-1].facts["seen"] == {"status": "behind"}


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"decision": "starve"}, "is not one of"),
        ({"by": ""}, "not named"),
        ({"note": " "}, "needs a reason"),
        ({"review_on": TODAY}, "not after today"),
    ],
)
def test_an_incomplete_decision_is_refused(camp: Camp, changed, said) -> None:
    whole = {
        "plan_id": "P", "athlete_id": "T1", "decision": "keep", "by": "Fen", "review_on": date(2032, 9, 1),
        "note": "fine", "seen": {},
    }  # fmt: skip
    with pytest.raises(DecisionError, match=said):
        record_decision(camp.root, **(whole | changed))


def test_an_athlete_hides_his_mass_and_shows_it_again(camp: Camp) -> None:
    hide_mass(camp.root, "T1", "Fen", hidden=True)
    assert hidden_masses(read_log(camp.root)) == {"T1"}
    hide_mass(camp.root, "T1", "Fen", hidden=False)
    assert hidden_masses(read_log(camp.root)) == frozenset()
