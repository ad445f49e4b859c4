"""A withdrawal of consent is final until a new consent, and one that fits nobody is told."""

from __future__ import annotations

from contextlib import closing

import pytest

from latewood.pipeline.care.check import check_folder
from latewood.pipeline.errors import ConsentError
from latewood.pipeline.ingest.actions import build, decide, land_files, withdraw
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.logs import decisions
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.warehouse.connection import open_published
from tests.conftest import Camp
from tests.pipeline.ingest.people.test_consent import GIVEN

pytestmark = pytest.mark.usefixtures("rows_only")

HEAD = "athlete,given_by,given_on,fields,measures,photo,projection,expires_on,withdrawn_on\n"
ROW = "guardian,2032-06-01,height,exit_speed,no,no,2032-12-01"


@pytest.fixture
def heath(camp: Camp) -> Camp:
    build(camp.root)
    return camp


def take(camp: Camp, name: str, rows: str) -> str:
    path = camp.inbox / f"{name}.csv"
    path.write_text(HEAD + rows, encoding="utf-8")
    return land_files(camp.root, [path], "Ira", own_columns=True)[0].import_id


def alarms(camp: Camp) -> list[str]:
    return [f.what for f in check_folder(camp.root) if f.area == "consents" and f.wrong]


def why(camp: Camp) -> str:
    return consent_book.refusals(camp.root)["T1"]


def test_a_withdrawal_outlives_its_import_until_a_new_consent(heath: Camp) -> None:
    take(heath, "given", f"T1,{ROW},\n")
    assert why(heath) == ""
    gone = take(heath, "gone", f"T1,{ROW},2032-07-01\n")
    assert "withdrawn on 2032-07-01" in why(heath)
    withdraw(heath.root, gone, "Ira", "wrong file", build_after=False)
    assert "withdrawn on 2032-07-01" in why(heath)
    take(heath, "old paper again", f"T1,{ROW},\n\n")
    assert "withdrawn on 2032-07-01" in why(heath)
    with pytest.raises(ConsentError, match="was withdrawn on 2032-07-01, after the day"):
        consent_book.record(heath.root, GIVEN, "Ira")
    take(heath, "new", f"T1,{ROW.replace('2032-06-01', '2032-07-02')},\n")
    assert why(heath) == ""


def test_a_withdrawal_that_cannot_be_read_goes_on_stopping_when_its_import_goes(heath: Camp) -> None:
    take(heath, "given", f"T1,{ROW},\n")
    bad = take(heath, "gone", f"T1,{ROW},soon\n")
    withdraw(heath.root, bad, "Ira", "wrong file", build_after=False)
    assert "cannot be read" in why(heath)


def test_a_consent_goes_with_its_import(heath: Camp) -> None:
    given = take(heath, "given", f"T1,{ROW},\n")
    withdraw(heath.root, given, "Ira", "wrong file", build_after=False)
    assert "no consent is recorded" in why(heath)


def test_a_withdrawal_for_nobody_is_an_alarm_until_it_is_placed_or_settled(heath: Camp) -> None:
    take(heath, "given", f"T1,{ROW},\nNobody Known,{ROW},\n")
    assert alarms(heath) == []
    lost = take(heath, "gone", f"T1 x,{ROW},2032-07-01\n")
    assert alarms(heath) == ["gone.csv, line 2: a consent is withdrawn for 'T1 x', who is not on the roster"]
    withdraw(heath.root, lost, "Ira", "wrong file", build_after=False)
    assert len(alarms(heath)) == 1
    take(heath, "mended", f"T1,{ROW},2032-07-01\n")
    assert alarms(heath) == []


def test_the_withdrawal_of_somebody_else_on_the_same_day_settles_nothing(heath: Camp) -> None:
    take(heath, "given", f"T1,{ROW},\nT2,{ROW},\n")
    take(heath, "gone", f"T1 x,{ROW},2032-07-01\n")
    assert len(alarms(heath)) == 1
    take(heath, "another", f"T2,{ROW},2032-07-01\n")
    assert len(alarms(heath)) == 1
    take(heath, "mended", f"T1,{ROW},2032-07-01\n")
    assert alarms(heath) == []


def test_a_withdrawal_that_stood_beside_it_settles_nothing_when_it_comes_again(heath: Camp) -> None:
    take(heath, "gone", f"T1,{ROW},2032-07-01\nT1 x,{ROW},2032-07-01\n")
    assert len(alarms(heath)) == 1
    take(heath, "again", f"T1,{ROW},2032-07-01\n\n")
    assert len(alarms(heath)) == 1


def test_a_rejected_row_is_settled(heath: Camp) -> None:
    take(heath, "gone", f"T1 x,{ROW},2032-07-01\n")
    build(heath.root)
    with closing(open_published(heath.root)) as connection:
        (held,) = connection.execute(
            "select held_id from held_row where raw_value like 'T1 x' or athlete_text = 'T1 x'"
        ).fetchone()
    assert alarms(heath)
    decide(
        heath.root, [held], Answer(action="reject", who="Ira", why="of another program"), build_after=False
    )
    assert alarms(heath) == []


def test_a_decision_that_gave_a_row_to_an_athlete_fits_its_id_and_a_changed_one_does_not() -> None:
    given = {"stage": "row", "rule": "unknown_athlete", "argument": "T1"}
    answer = decisions.Answer(action="assign", who=" Ira ", why="his")
    made = decisions.new_decision(answer, {"b:3:x": given, "a:2:x": given}, at="2032", position=0)
    kept = decisions.Decision(
        decision_id=made.decision_id, decided_at="2032", decided_by="Ira", action="assign", why="his",
        targets={t: dict(sorted(g.items())) for t, g in sorted(made.targets.items())},
    )  # fmt: skip
    assert decisions.fits(kept, 0)
    for field, value in {
        "decided_by": "Ida",
        "why": "hers",
        "decided_at": "2033",
        "action": "accept",
    }.items():
        changed = {name: getattr(kept, name) for name in decisions.Decision.__dataclass_fields__} | {
            field: value
        }
        assert not decisions.fits(decisions.Decision(**changed), 0)
    assert not decisions.fits(kept, 1)


def test_an_id_of_an_earlier_version_still_fits() -> None:
    """Written by the version before: targets in the order stage, argument, rule."""
    import hashlib
    import json

    given = {"stage": "row", "argument": "T1", "rule": "unknown_athlete"}
    body = json.dumps([4, "assign", {"a:2:x": given}, "Ira", "his", "2032"], ensure_ascii=False)
    kept = decisions.Decision(
        decision_id=hashlib.sha256(body.encode()).hexdigest()[:12], decided_at="2032", decided_by="Ira",
        action="assign", why="his", targets={"a:2:x": dict(sorted(given.items()))},
    )  # fmt: skip
    assert decisions.fits(kept, 4)
