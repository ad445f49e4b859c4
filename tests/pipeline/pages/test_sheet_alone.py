"""Somebody with the sheet alone finds method, best, typical, change and standing of what stands large."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.pages import register
from latewood.pipeline.pages.keys import signer
from latewood.pipeline.pages.record import BridgeSupport, ProgramRecord, Value, read_record
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.alone import check_alone
from latewood.pipeline.pages.recruit.data import as_data, csv_rows, hash_of, render_csv
from latewood.pipeline.pages.recruit.issue import Issued, open_run
from latewood.pipeline.pages.recruit.model import Summary
from latewood.pipeline.pages.recruit.page import make_page, page_texts
from latewood.pipeline.pages.recruit.pdf import pdf_text, render_pdf
from latewood.pipeline.pages.recruit.verify import verify
from latewood.pipeline.pages.recruit.web import render_web, web_text
from latewood.pipeline.pages.words import day
from tests.conftest import Camp
from tests.pipeline.pages.sheet_reader import answer_for, read_heads
from tests.pipeline.pages.sheets import made as sheet_made

TODAY = date(2032, 8, 20)


@pytest.fixture(scope="session")
def record(built_camp: Camp) -> ProgramRecord:
    return read_record(built_camp.root)


def _of(record: ProgramRecord, **changed: object) -> ProgramRecord:
    athlete = replace(record.athletes["T1"], **changed)
    return replace(record, athletes={**record.athletes, "T1": athlete})


@pytest.mark.parametrize("form", ["pdf", "html"])
def test_a_reader_of_the_sheet_alone_finds_the_five_facts(record: ProgramRecord, form: str) -> None:
    summary = sheet_made(record)
    page = make_page(summary)
    text = pdf_text(render_pdf(page, TODAY)) if form == "pdf" else " ".join(web_text(render_web(page)))
    answers = read_heads(text)
    assert len(answers) == len(summary.heads.measures) == 4
    for shown in summary.measures[:4]:
        read = answer_for(answers, shown.label)
        assert read.method == shown.method
        assert read.best == f"{shown.best.best:.{shown.decimals}f} {shown.unit}"
        assert (read.best_on, read.typical_on) == (day(shown.best.held_on), day(shown.latest.held_on))
        assert (read.trials, read.sessions) == (shown.trials, shown.sessions)
        assert read.typical == f"{shown.latest.typical:.{shown.decimals}f} {shown.unit}"
        assert read.error == shown.typical_error
        assert shown.growth is not None
        assert read.change == shown.growth.words
        assert "95 % interval" in read.change_more
        assert f"to {shown.growth.end:.{shown.decimals}f}" in read.change_more
    exit_speed = answer_for(answers, "Exit speed")
    assert exit_speed.standing.endswith(("st", "nd", "rd", "th"))
    assert "among 24 other baseball athletes here aged 15–17, same method" in exit_speed.group


def test_what_stands_large_follows_position_and_sport_where_the_position_may_be_shown(
    record: ProgramRecord,
) -> None:
    pitcher, catcher = _of(record, positions="LHP/OF"), _of(record, positions="C")
    assert sheet_made(pitcher).measures[0].key == "pitch_speed"
    assert sheet_made(pitcher).heads.chosen_for == "a pitcher in baseball"
    assert sheet_made(catcher).measures[0].key == "exit_speed"  # no pop time measured here
    assert sheet_made(pitcher, fields=("height",)).measures[0].key == "exit_speed"
    assert "pitcher" not in str(as_data(sheet_made(pitcher, fields=("height",))))
    for made in (sheet_made(pitcher), sheet_made(catcher)):
        words = " ".join(page_texts(make_page(made)))
        assert f"chosen for {made.heads.chosen_for}: common practice, no source." in words
        rows = list(csv.DictReader(io.StringIO(render_csv(made))))
        assert [row["measure"] for row in rows if row["set_large"]] == list(made.heads.measures)


def _came_back(record: ProgramRecord, **earlier: object) -> ProgramRecord:
    """T1 as somebody who was here a year before, with one test day of exit speed then."""
    mine = list(record.values["T1"])
    first = next(v for v in mine if v.measure == "exit_speed")
    old = replace(first, held_on=date(2031, 7, 1), stay_id="T1@J", **earlier)
    return replace(
        record,
        values={**record.values, "T1": [old, *mine]},
        camps={**record.camps, "T1": ["J", "K"]},
        camp_of={**record.camp_of, "T1@J": "Old camp"},
        bridges={("exit_speed", "device=hand", first.line): BridgeSupport(shift_se=0.2, pairs=18)},
    )


def _years(record: ProgramRecord) -> tuple[Summary, str]:
    made = sheet_made(record)
    return made, " ".join(page_texts(make_page(made)))


def _last(record: ProgramRecord) -> Value:
    return [v for v in record.values["T1"] if v.measure == "exit_speed"][-1]


def test_somebody_who_came_back_has_a_line_over_years_where_the_way_is_the_same(
    record: ProgramRecord,
) -> None:
    made, words = _years(_came_back(record, value=35.0))
    shown = next(m for m in made.measures if m.key == "exit_speed")
    assert [(y.camp, y.typical, y.pairs) for y in shown.years] == [
        ("Old camp", round(35.0 / 0.44704, 1), 0), ("Heath camp", shown.latest.typical, 0),
    ]  # fmt: skip
    assert "Over the years, typical value of each camp's last session: Old camp 78.3 (1 Jul 2031)" in words
    row = next(r for r in csv_rows(as_data(made)) if r["measure"] == "exit_speed")
    assert row["years"].startswith("Old camp 2031-07-01 78.3 from 3 trials | Heath camp")


def test_a_bridge_joins_and_says_by_how_much(record: ProgramRecord) -> None:
    line = _last(record).line
    made, words = _years(_came_back(record, value=35.0, own_line="device=hand", line=line, shift=0.5))
    shown = next(m for m in made.measures if m.key == "exit_speed")
    assert shown.years[0].typical == round(35.5 / 0.44704, 1)
    assert (shown.years[0].moved, shown.years[0].pairs) == (round(0.5 / 0.44704, 1), 18)
    assert "Old camp 79.4* (1 Jul 2031)" in words
    assert "* Measured otherwise, moved by +1.1 ± 0.4: known from 18 pairs measured both ways." in words


def test_without_a_bridge_there_is_no_line_and_the_reason_is_given(record: ProgramRecord) -> None:
    made, words = _years(_came_back(record, value=35.0, own_line="device=hand", line="device=hand"))
    shown = next(m for m in made.measures if m.key == "exit_speed")
    assert shown.years == ()
    assert (
        "Over the years: not given (measured otherwise in earlier camps, and no bridge joins the two ways)."
        in words
    )
    others = [m for m in made.measures if m.key in made.heads.measures and m.key != "exit_speed"]
    assert {m.years_reason for m in others} == {"not measured in an earlier camp"}


def test_somebody_here_once_has_neither_line_nor_reason(record: ProgramRecord) -> None:
    made, words = _years(record)
    assert "Over the years" not in words
    assert {(m.years, m.years_reason) for m in made.measures} == {((), "")}


def _older(data: dict[str, object]) -> dict[str, object]:
    """The same page in the form before this one."""
    measures = [
        {k: v for k, v in one.items() if k not in {"camp", "years", "years_reason"}} for one in data["measures"]
    ]  # fmt: skip
    older = {k: v for k, v in data.items() if k != "heads"} | {
        "schema": "latewood-summary/2",
        "measures": measures,
    }
    older["provenance"] = {**data["provenance"], "page_hash": ""}
    older["provenance"]["page_hash"] = hash_of(older)
    return older


def test_a_page_of_the_form_before_is_still_verified(agreed: Camp) -> None:
    (made,) = issue.issue(open_run(agreed.root, "Ira", forms=("json",)), ("T1",))
    assert isinstance(made, Issued)
    key = signer(agreed.root)
    issued = json.loads(next(iter(made.files.values())))
    data = _older({k: v for k, v in issued.items() if k not in {"signature", "public_key"}})
    page_hash = data["provenance"]["page_hash"]
    register.keep_printed(agreed.root, page_hash, {"data": data, "texts": ["page"]})
    register.add(
        agreed.root, key,
        [{"state": "issued", "page_hash": page_hash, "subject": "s", "files": {}, "why": "",
          "valid_until": "2032-12-01", "build_id": "b"}],
        "2032-08-20T10:00:00",
    )  # fmt: skip
    content = json.dumps({**data, "public_key": key.public_text, "signature": key.sign(page_hash)}).encode()
    assert verify(agreed.root, "a.json", content).state == "issued"
    assert check_alone("a.json", content, None, key.fingerprint, TODAY).state == "issued"
    rows = csv_rows(data)
    rows[0]["best"] = "99.9"
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    differing = verify(agreed.root, str(Path("a.csv")), out.getvalue().encode())
    assert (differing.state, len(differing.differences)) == ("edited", 1)
