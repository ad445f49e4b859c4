"""Erasing an athlete: nothing of them is left in the data folder, the others' rows and decisions are as before."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from latewood.pipeline.care.erase import erase
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.actions import decide, import_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.logs import audit, entered, planlog
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.verify import verify
from tests.audited import logged_actions
from tests.conftest import Camp
from tests.pipeline.ingest.files.test_traces import MAPPING, text, wide
from tests.pipeline.pages.conftest import GIVEN, LONG_NAME
from tests.typed import type_in


def _collected(root: Path, *words: str) -> list[str]:
    return [
        str(p.relative_to(root))
        for p in root.rglob("*")
        if p.is_file() and any(w.encode() in p.read_bytes() for w in words)
    ]


def test_nothing_is_left_and_nothing_else_is_lost(agreed: Camp) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["athlete", "measured_on", "measure", "value", "unit"])
    for row in (
        [LONG_NAME, "2032-07-20", "throw_speed", 71, "mph"],
        ["R1", "2032-07-20", "throw_speed", 71, "mph"],
    ):
        sheet.append(row)
    agreed.inbox.mkdir(exist_ok=True)
    book.save(agreed.inbox / "throws.xlsx")
    odd = agreed.write(
        "odd.csv",
        "athlete,measured_on,measure,value,unit,note\n"
        'T1,2032-07-21,body_mass,73,kg,"two\nlines"\nR2,2032-07-21,body_mass,700,kg,x\n',
    )
    import_files(agreed.root, [agreed.inbox / "throws.xlsx", odd], "Ira")
    held = agreed.rows("select held_id from held_row where athlete_id = 'R2'")[0][0]
    decide(agreed.root, [held], Answer(action="mend", who="Ira", why="typed one nought too many", value="70"))
    run = issue.open_run(agreed.root, "Ira", forms=("json",))
    (made,) = issue.issue(run, ["T1"])
    assert isinstance(made, issue.Issued)
    page = next(iter(made.files.values()))
    others = "select athlete_id, measured_on, measure, value, row_no from reading where athlete_id <> 'T1' order by all"
    before = agreed.rows(others)
    done = erase(agreed.root, "T1", "Odalys")
    assert done.pages == 1
    assert agreed.rows(others) == before
    assert agreed.rows("select count(*) from athlete where athlete_id = 'T1'") == [(0,)]
    assert _collected(agreed.root, "Fernmoss", "T1,", '"T1"', "T1@") == []
    assert audit.check(agreed.root).whole
    last = audit.lines(agreed.root)[-1]
    assert (last.event, last.who, set(last.details)) == ("erasure", "Odalys", {"files"})
    assert audit.subjects(agreed.root) == {}
    verdict = verify(agreed.root, "a.json", page)
    assert verdict.state == "superseded"
    assert "no longer held" in verdict.words


def test_the_file_as_it_first_came_is_not_taken_in_again(heath: Camp) -> None:
    first = next((heath.root / "landing").glob("*/readings.csv")).read_bytes()
    erase(heath.root, "T1", "Odalys")
    again = heath.take("readings.csv", first)
    assert again.state == "already there"
    assert heath.rows("select count(*) from reading where athlete_id = 'T1'") == [(0,)]


def test_others_pages_that_read_otherwise_are_superseded(heath: Camp) -> None:
    consent_book.record(heath.root, replace(GIVEN, athlete_id="R1"), "Ira")
    run = issue.open_run(heath.root, "Ira", forms=("pdf",))
    (made,) = issue.issue(run, ["R1"])
    assert isinstance(made, issue.Issued)
    assert erase(heath.root, "R2", "Odalys").superseded == 1
    assert verify(heath.root, "a.pdf", next(iter(made.files.values()))).state == "superseded"


def test_what_was_typed_and_planned_for_him_goes_and_the_rest_stays(heath: Camp) -> None:
    root, on = heath.root, date(2032, 7, 20)
    mine = _typed(root, "T1", "72.4", on)
    entered.take_back(root, _typed(root, "T1", "99.9", on), "Ira")
    other = _typed(root, "R1", "71.2", on)
    planlog.hide_mass(root, "T1", "Ira", hidden=True)
    planlog.record_decision(
        root,
        planlog.NewPlanDecision(
            plan_id="P1",
            athlete_id="T1",
            decision="keep",
            review_on=date(2032, 12, 1),
            note="steady",
            seen={},
        ),
        "Ira",
    )
    planlog.hide_mass(root, "R1", "Ira", hidden=True)
    planlog.record_decision(
        root,
        planlog.NewPlanDecision(
            plan_id="P2",
            athlete_id="R1",
            decision="keep",
            review_on=date(2032, 12, 1),
            note=f"trains with {LONG_NAME}",
            seen={},
        ),
        "Ira",
    )
    build(root)
    assert heath.rows("select count(*) from reading where athlete_id = 'T1' and value = 72.4") == [(1,)]
    before = heath.rows(
        "select athlete_id, value, import_id, row_no from reading where athlete_id = 'R1' order by all"
    )
    erase(root, "T1", "Odalys")
    assert _collected(root, "Fernmoss", '"T1"', "T1@", mine.entry_id) == []
    day = next((root / "entries").glob("*.jsonl"))
    assert entered.current_entries(root, date.fromisoformat(day.stem)) == (other,)
    kept = planlog.read_log(root)
    assert [(event.athlete_id, event.note) for event in kept] == [("R1", ""), ("R1", "erased")]
    after = heath.rows(
        "select athlete_id, value, import_id, row_no from reading where athlete_id = 'R1' order by all"
    )
    assert after == before
    assert audit.check(root).whole


def _typed(root: Path, athlete: str, value: str, on: date) -> entered.TypedEntry:
    return type_in(
        root, by="Ira", athlete_id=athlete, measure="body_mass", measured_on=on, value=value, unit="kg"
    )


@pytest.mark.parametrize("in_name", [True, False])
def test_his_traces_go_whether_the_file_or_its_name_says_whose_they_are(heath: Camp, in_name) -> None:
    named = MAPPING
    if in_name:
        named = MAPPING.replace('athlete = "Athlete"\n', "").replace(
            'applies_to = "traces_*.csv"', 'applies_to = "*.csv"'
        )
        named += '[trace]\nfile_name = "{athlete}_day.csv"\n'
    toml = heath.write("traces.toml", named)
    for athlete, reps in (("T1", 2), ("R1", 3)):
        rows = [row[1:] if in_name else row for row in wide(athlete, reps=reps)]
        heath.take(f"{athlete}_day.csv" if in_name else f"traces_{athlete}.csv", text(rows), toml)
    count = "select count(*) from reading where measure like '%peak_speed' and athlete_id = ?"
    assert [heath.rows(count.replace("?", f"'{a}'"))[0][0] > 0 for a in ("T1", "R1")] == [True, True]
    erase(heath.root, "T1", "Odalys")
    assert heath.rows(count.replace("?", "'T1'")) == [(0,)]
    assert heath.rows(count.replace("?", "'R1'"))[0][0] > 0
    assert _collected(heath.root, "T1,") == []


def test_who_is_not_there_cannot_be_erased(heath: Camp) -> None:
    with pytest.raises(SummaryError, match="is not on any roster"):
        erase(heath.root, "T9", "Odalys")
    assert logged_actions(heath.root) == ()
