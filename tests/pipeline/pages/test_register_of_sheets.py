"""What is out: a build supersedes the sheets whose print it changes and no other; those are issued anew at once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.care.erase import erase
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.issue import Issued, Refused, open_run
from latewood.pipeline.pages.recruit.make import Choice
from latewood.pipeline.pages.recruit.sheets import issue_again, sheets_out, to_issue_again
from latewood.pipeline.pages.recruit.verify import verify
from tests.conftest import Camp
from tests.pipeline.pages.conftest import GIVEN

TODAY = date(2032, 8, 20)
COACH = "Oak Hollow, second call"


def _issue(camp: Camp, athlete: str = "T1", choice: Choice | None = None, recipient: str = "") -> Issued:
    run = replace(open_run(camp.root, "Ira", choice, ("json", "csv")), recipient=recipient)
    (made,) = issue.issue(run, [athlete])
    assert isinstance(made, Issued), made
    return made


def _import(camp: Camp, line: str) -> None:
    text = f"athlete,measured_on,measure,value,unit\n{line}\n"
    import_files(camp.root, [camp.write("more.csv", text)], "Ira")


def _states(camp: Camp) -> dict[str, str]:
    return {one.page_hash: one.state for one in sheets_out(camp.root)}


def test_a_build_that_changes_anothers_data_leaves_the_sheet_in_force(agreed: Camp) -> None:
    made = _issue(agreed)
    _import(agreed, "R1,2032-07-01,body_mass,80,kg")
    (name, content), *_ = made.files.items()
    assert verify(agreed.root, name, content).state == "issued"
    assert _states(agreed) == {made.page_hash: "in force"}


def test_a_build_that_changes_a_printed_number_supersedes_the_sheet_without_a_new_one(agreed: Camp) -> None:
    made = _issue(agreed)
    narrow = _issue(agreed, choice=Choice(measures=("pitch_speed",)))
    _import(agreed, "T1,2032-07-20,bench_press,80,kg")
    for name, content in made.files.items():
        verdict = verify(agreed.root, name, content)
        assert (verdict.state, verdict.good) == ("superseded", False), name
    assert _states(agreed) == {narrow.page_hash: "in force", made.page_hash: "superseded"}
    assert next(o.why for o in sheets_out(agreed.root) if o.state != "in force").startswith(
        "its numbers read"
    )


def test_a_new_sheet_from_a_newer_build_replaces_only_what_reads_otherwise(agreed: Camp) -> None:
    first = _issue(agreed, choice=Choice(measures=("pitch_speed",)))
    _import(agreed, "T1,2032-07-20,bench_press,80,kg")
    second = _issue(agreed, choice=Choice(measures=("bench_press",)))
    assert _states(agreed) == {second.page_hash: "in force", first.page_hash: "in force"}


def test_days_going_by_supersede_nothing_and_an_end_is_named(agreed: Camp) -> None:
    made = _issue(agreed)
    _import(agreed, "R1,2032-07-01,body_mass,80,kg")
    settings = (agreed.root / "program.toml").read_text(encoding="utf-8")
    for day, state in (("2032-11-30", "in force"), ("2032-12-02", "expired")):
        (agreed.root / "program.toml").write_text(settings.replace("2032-08-20", day), encoding="utf-8")
        assert _states(agreed) == {made.page_hash: state}


def test_for_whom_is_listed_and_printed_nowhere(agreed: Camp) -> None:
    made = _issue(agreed, recipient=f"{COACH}\n\u202e")
    (out,) = sheets_out(agreed.root)
    assert (out.recipient, out.forms, out.athlete_id) == (COACH, ("csv", "json"), "T1")
    assert (out.state, out.valid_until) == ("in force", date(2032, 12, 1))
    assert not any(b"Oak Hollow" in content for content in made.files.values())
    for log in ("register.jsonl", "audit.jsonl"):
        assert "Oak Hollow" not in (agreed.root / "landing" / log).read_text(encoding="utf-8")


def test_all_superseded_are_issued_again_as_they_were_and_the_refused_are_named(agreed: Camp) -> None:
    consent_book.record(agreed.root, replace(GIVEN, athlete_id="R2", measures=("exit_speed",)), "Ira")
    old = [
        _issue(agreed, recipient=COACH),
        _issue(agreed, choice=Choice(measures=("bench_press",), units="metric")),
        _issue(agreed, athlete="R2"),
    ]
    _import(agreed, "T1,2032-07-20,bench_press,80,kg\nR2,2032-07-20,body_mass,80,kg")
    assert len(to_issue_again(sheets_out(agreed.root), TODAY)) == len(old)
    consent_book.record(agreed.root, replace(GIVEN, athlete_id="R2", measures=(), given_on=TODAY), "Ira")
    results = list(issue_again(agreed.root, "Ira"))
    refused = [r for r in results if isinstance(r, Refused)]
    assert [(r.athlete_id, r.why) for r in refused] == [
        ("R2", "the consent does not cover 'exit_speed'; leave it out or ask for a wider one")
    ]
    new = {r.page_hash: set(r.files) for r in results if isinstance(r, Issued)}
    assert [Path(f).suffix for files in new.values() for f in sorted(files)] == [".csv", ".json"] * 2
    out = {one.page_hash: one for one in sheets_out(agreed.root) if one.page_hash in new}
    assert {(o.recipient, o.choice.units) for o in out.values() if o.choice} == {
        (COACH, "us"),
        ("", "metric"),
    }
    assert [o.athlete_id for o in to_issue_again(sheets_out(agreed.root), TODAY)] == ["R2"]
    assert [r.athlete_id for r in issue_again(agreed.root, "Ira")] == ["R2"]


def test_an_erasure_takes_for_whom_and_leaves_other_sheets_in_force(agreed: Camp) -> None:
    consent_book.record(agreed.root, replace(GIVEN, athlete_id="R2"), "Ira")
    theirs = _issue(agreed, athlete="R2", recipient=COACH)
    alone = _issue(agreed, choice=Choice(measures=("pitch_speed",)))
    assert erase(agreed.root, "R2", "Ira").superseded == 0
    states = _states(agreed)
    assert states[theirs.page_hash] == "superseded"
    assert states[alone.page_hash] == "in force"
    assert next(o for o in sheets_out(agreed.root) if o.page_hash == theirs.page_hash).recipient == ""
    text = "".join(p.read_text(encoding="utf-8") for p in (agreed.root / "landing" / "issued").glob("*"))
    assert "Oak Hollow" not in text


def test_a_damaged_register_lists_nothing(agreed: Camp) -> None:
    _issue(agreed)
    path = agreed.root / "landing" / "register.jsonl"
    path.write_text(path.read_text().replace('"valid_until": "2032', '"valid_until": "2039'))
    with pytest.raises(SummaryError, match="restore it from a backup"):
        sheets_out(agreed.root)
