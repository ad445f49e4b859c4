"""Erasing an athlete: nothing of him is left in the data folder, the others' rows and decisions are as before."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from pipeline.errors import SummaryError
from pipeline.ingest import audit, consent_book
from pipeline.ingest.actions import decide, import_files
from pipeline.summary import issue
from pipeline.summary.erase import erase
from pipeline.summary.verify import verify
from tests.conftest import Camp
from tests.pipeline.summary.conftest import GIVEN, LONG_NAME


def _found(root: Path, *words: str) -> list[str]:
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
    decide(agreed.root, [held], "mend", "Ira", "typed one nought too many", value="70")
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
    assert _found(agreed.root, "Fernmoss", "T1,", '"T1"', "T1@") == []
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


def test_who_is_not_there_cannot_be_erased(heath: Camp) -> None:
    with pytest.raises(SummaryError, match="is not on any roster"):
        erase(heath.root, "T9", "Odalys")
    assert audit.lines(heath.root) == ()
