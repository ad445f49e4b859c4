"""The camp review for outsiders: nobody, and no cell with fewer than eight athletes, in any form."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.pages.camp.issue import issue_outside
from latewood.pipeline.pages.camp.make import make_review
from latewood.pipeline.pages.camp.outside import make_outside, outside_texts, shown_parts
from latewood.pipeline.pages.camp.pdf import render_outside
from latewood.pipeline.pages.recruit.pdf import pdf_text
from tests.conftest import Camp
from tests.pipeline.pages.camp_record import BRIDGE, GAIN, SMALL, SPRINT, camp_record

SMALL_COUNTS = re.compile(
    r"\b([0-7]|one|two|three|four|five|six|seven) (?:athletes?|others?|left|missing|leavers?|clear|not clear)\b",
    re.I,
)


def _words() -> str:
    return " ".join(outside_texts(make_outside(make_review(camp_record()))))


def test_no_single_athlete_and_no_small_count_is_in_it() -> None:
    words = _words()
    assert not SMALL_COUNTS.search(words)
    assert "Pop time" not in words  # four were measured
    assert "left early, after" not in words
    assert "×" not in words
    assert "22" not in words  # exit tests: their rest would be two
    assert not re.search(r"\bT\d+\b", words)
    assert "per lb" not in words


def test_a_kind_with_one_small_part_is_left_out_whole() -> None:
    review = make_review(camp_record())
    (sheet, *_) = review.groups
    kinds = {
        group.kind: [len(g.singles) for g in sheet.groups if g.kind == group.kind] for group in sheet.groups
    }
    shown = {group.kind for group in shown_parts(sheet)}
    assert any(min(counts) < 8 for kind, counts in kinds.items() if kind)
    assert shown == {kind for kind, counts in kinds.items() if kind and min(counts) >= 8}
    assert {"Sex"} <= shown  # 8 and 16
    assert all(f" {row[1]} " not in f" {_words()} " for row in (("", "Catchers"), ("", "Pitchers")))


def test_a_part_of_seven_is_left_out_though_it_has_a_mean() -> None:
    (sheet, *_) = make_review(camp_record()).groups
    part = next(group for group in shown_parts(sheet) if len(group.singles) == 8)
    seven = replace(part, singles=part.singles[:7])
    groups = tuple(seven if group is part else group for group in sheet.groups)
    assert seven.mean is not None
    assert part.kind not in {group.kind for group in shown_parts(replace(sheet, groups=groups))}


def test_seven_are_nobody_and_eight_are_a_number() -> None:
    seven = replace(GAIN, n_measured=7, n_enrolled=24)
    with pytest.raises(SummaryError, match="no measure has 8 athletes"):
        make_outside(make_review(camp_record(gains=(seven, SMALL))))
    eight = replace(GAIN, n_measured=8, n_enrolled=24)
    assert len(make_outside(make_review(camp_record(gains=(eight, seven, SMALL)))).rows) == 1


def test_a_bridge_of_few_athletes_is_not_named() -> None:
    few = make_review(camp_record())
    made = make_outside(
        replace(few, breaks=("60-yard sprint: an offset from 5 athletes measured both ways.",))
    )
    assert made.breaks == ()
    many = make_outside(
        replace(few, breaks=(f"an offset from {BRIDGE.n_pairs} athletes measured both ways.",))
    )
    assert len(many.breaks) == 1


def test_how_many_values_were_estimated_is_not_counted() -> None:
    counted = camp_record(estimated={("exit_speed", GAIN.line): (48, 3)})
    words = " ".join(outside_texts(make_outside(make_review(counted))))
    assert "some values estimated from sets of several repetitions" in words
    assert "3 of 48" not in words


def test_every_word_is_on_the_sheet_and_none_below_eight_points() -> None:
    made = make_outside(make_review(camp_record()))
    reader, sizes = PdfReader(BytesIO(render_outside(made))), []

    def seen(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        if text.strip():
            sizes.append(size * abs(tm[3] * cm[3]))

    printed = "".join("".join(page.extract_text(visitor_text=seen).split()) for page in reader.pages)
    assert min(sizes) >= 8.0
    for text in outside_texts(made):
        assert "".join(text.split()) in printed, text


def test_files_are_noted_and_the_tables_hold_the_same(tmp_path) -> None:
    prepare_folder(tmp_path)
    review = make_review(camp_record(gains=(GAIN, SPRINT, SMALL)))
    made = issue_outside(tmp_path, review, "Dana", ("pdf", "csv"))
    last = audit.lines(tmp_path)[-1]
    assert (last.event, last.who, last.details["what"]) == ("export", "Dana", "camp review for outsiders")
    tables = {
        name: content.decode("utf-8-sig") for name, content in made.files.items() if name.endswith("csv")
    }
    gains = next(rows for name, rows in tables.items() if name.endswith("gains.csv"))
    assert [row["measure"] for row in csv.DictReader(io.StringIO(gains))] == ["Exit speed", "60-yard sprint"]
    for text in tables.values():
        for row in csv.DictReader(io.StringIO(text)):
            assert all(int(cell) >= 8 for head, cell in row.items() if head.endswith("(n)"))
    with pytest.raises(SummaryError, match="is not one of pdf, csv"):
        issue_outside(tmp_path, review, "Dana", ("xlsx",))


def test_the_command_makes_both_forms_and_names_nobody(heath: Camp, tmp_path: Path) -> None:
    out = tmp_path / "out"
    command = [
        "review",
        "--camp",
        "K",
        "--outside",
        "--form",
        "pdf,csv",
        "--out",
        str(out),
        "--data",
        str(heath.root),
    ]
    done = CliRunner().invoke(app, command)
    assert done.exit_code == 0, done.output
    assert "for outsiders" in done.output
    names = [one for (one,) in heath.rows("select display_name from athlete")]
    files = sorted(out.iterdir())
    assert [one.suffix for one in files] == [".pdf", ".csv", ".csv"]
    for one in files:
        content = one.read_bytes()
        text = pdf_text(content) if one.suffix == ".pdf" else content.decode("utf-8-sig")
        assert "Exit speed" in text or one.name.endswith("parts.csv")
        assert not any(name in text for name in names)
