"""What a sheet says of changes and estimates: the line it fits, the sets behind a maximum, the past of projections."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY
from latewood.pipeline.pages.camp.issue import review_of
from latewood.pipeline.pages.camp.page import make_page as make_camp_page
from latewood.pipeline.pages.camp.table import gain_rows
from latewood.pipeline.pages.family.issue import family_of
from latewood.pipeline.pages.family.page import make_page as make_family_page
from latewood.pipeline.pages.record import PastRow, ProgramRecord, ProjectionRow, read_record
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.data import as_data, csv_rows
from latewood.pipeline.pages.recruit.issue import Issued, open_run
from latewood.pipeline.pages.recruit.make import Choice
from latewood.pipeline.pages.recruit.page import make_page, page_texts
from latewood.pipeline.pages.recruit.pdf import pdf_text
from latewood.pipeline.pages.recruit.web import web_text
from tests.conftest import Camp
from tests.pipeline.pages.conftest import GIVEN
from tests.pipeline.pages.sheets import made as sheet_made

SETS = "athlete,measured_on,measure,load,unit,reps\n" + "".join(
    f"{athlete},{on},squat,{load},kg,{reps}\n"
    for number, athlete in enumerate(("T1", "T2", *(f"R{i}" for i in range(10))))
    for on, load, reps in (
        ("2032-06-02", 100.0 + number, 5), ("2032-06-20", 110.0 + number, 4), ("2032-07-01", 112.5 + number, 3),
        ("2032-07-13", 117.5 + number, 5 if athlete != "R3" else 1),
    )
)  # fmt: skip


@pytest.fixture
def lifted(agreed: Camp) -> Camp:
    """The camp with squats from sets of several repetitions; one athlete's last is a single."""
    outcome = agreed.take("sets.csv", SETS.replace("load", "value"))
    assert outcome.import_id
    return agreed


def _forms(camp: Camp, athlete: str = "T1") -> dict[str, str]:
    (made,) = issue.issue(open_run(camp.root, "Ira", forms=("pdf", "html", "json", "csv")), (athlete,))
    assert isinstance(made, Issued), made
    files = {Path(name).suffix[1:]: content for name, content in made.files.items()}
    return {
        "pdf": " ".join(pdf_text(files["pdf"]).split()),
        "html": " ".join(" ".join(web_text(files["html"].decode())).split()),
        "json": files["json"].decode(),
        "csv": files["csv"].decode("utf-8-sig"),
    }


def test_the_set_behind_an_estimate_reaches_the_warehouse(lifted: Camp) -> None:
    rows = lifted.rows(
        "select split_part(session_id, '@', 1), load, reps from estimated_value "
        "where measure = 'squat' and session_id like '%2032-07-13' order by 1"
    )
    assert ("T1", 117.5, 5) in rows
    assert not [row for row in rows if row[0] == "R3"]  # a single was lifted as it stands
    assert lifted.rows("select count(*) from estimated_value where measure <> 'squat'") == [(0,)]
    # Epley 1985: load x (1 + repetitions / 30)
    assert lifted.rows(
        "select value from session_value where session_id = 'T1@2032-07-13' and measure = 'squat'"
    )[0][0] == pytest.approx(117.5 * (1 + 5 / 30))


def test_an_estimate_is_said_to_be_one_in_every_form(lifted: Camp) -> None:
    forms = _forms(lifted)
    squat = next(m for m in json.loads(forms["json"])["measures"] if m["key"] == "squat")
    assert squat["latest"]["estimated_from"] == "259 lb × 5"
    row = next(r for r in csv.DictReader(io.StringIO(forms["csv"])) if r["measure"] == "squat")
    assert (row["latest_estimated_from"], row["best_estimated_from"]) == ("259 lb × 5", "259 lb × 5")
    assert row["change_sessions_estimated"] == "4"
    for form in ("pdf", "html"):
        assert "1 trial, estimated from 259 lb × 5" in forms[form]
        assert "4 sessions in 5.9 weeks, 4 estimated" in forms[form]
        assert "it was not lifted" in forms[form]


def test_family_page_and_camp_review_say_what_was_estimated(lifted: Camp) -> None:
    consent_book.record(lifted.root, replace(GIVEN, purpose=FAMILY, measures=("squat",)), "Ira")
    page = make_family_page(family_of(read_record(lifted.root), "T1"))
    (line,) = [line for part in page.parts for line in part.lines]
    assert "worked out from a set of lifts. The last set was 259 lb × 5." in line.sentence
    review = review_of(lifted.root, "K")
    words = "47 of 48 values estimated from sets of several repetitions"
    assert any(one.key == "squat" and words in one.method for one in review.gains)
    assert any(words in str(row) for row in gain_rows(review))
    camp_page = make_camp_page(review)
    assert any(words in line.method for line in camp_page.lines)


def test_start_and_change_make_the_end_and_all_forms_agree(agreed: Camp) -> None:
    forms = _forms(agreed)
    measures = json.loads(forms["json"])["measures"]
    rows = {row["measure"]: row for row in csv.DictReader(io.StringIO(forms["csv"]))}
    given = [m for m in measures if m["growth"]]
    assert len(given) >= 10
    for one in given:
        growth, places, row = one["growth"], one["decimals"], rows[one["key"]]
        assert round(growth["start"] + growth["change"], places) == growth["end"]
        assert [float(row[f"change{x}"]) for x in ("_start", "_end", "")] == [
            growth["start"], growth["end"], growth["change"],
        ]  # fmt: skip
        assert row["change_words"].lstrip("'") == growth["words"]
        ends = f"{growth['start']:.{places}f} to {growth['end']:.{places}f}"
        large = one["key"] in json.loads(forms["json"])["heads"]["measures"]
        texts = [f"fitted line from {ends}", growth["words"]] if large else [f"{ends}: {growth['words']}"]
        assert all(text in forms["html"] and text in forms["pdf"] for text in texts), texts
        if one["unit"] == "s" and growth["change"]:
            assert growth["words"].endswith("faster" if growth["change"] < 0 else "slower")
    assert "it can differ from the last session less the first" in forms["pdf"]


def test_past_projections_are_counted_where_a_projection_is_shown(record_of: ProgramRecord) -> None:
    line = next(v.line for v in record_of.values["T1"] if v.measure == "exit_speed")
    row = ProjectionRow(
        value=38.0, low=36.0, high=40.0, level=0.95, target_on=date(2032, 9, 1), made_on=date(2032, 7, 13)
    )
    shown = replace(record_of, projections={("T1", "exit_speed", line): row})
    for past, text in (
        (PastRow(scored=412, inside_95=0.934),
         "Of 412 past projections of this measure that met a test day, 93 % came inside their 95 % interval."),
        (PastRow(scored=3, inside_95=None), "3 have met a test day, too few to say"),
    ):  # fmt: skip
        summary = sheet_made(
            replace(shown, past={"exit_speed": past}), Choice(projection=True), projection=True
        )
        words = " ".join(page_texts(make_page(summary)))
        assert text in words
        assert "not been counted" not in words
        cells = next(r for r in csv_rows(as_data(summary)) if r["measure"] == "exit_speed")
        assert cells["past_projections_scored"] == str(past.scored)


@pytest.fixture
def record_of(built_camp: Camp) -> ProgramRecord:
    return read_record(built_camp.root)


def test_the_scores_on_the_sheet_are_those_stored(agreed: Camp) -> None:
    stored = {r[0]: r[1:] for r in agreed.rows(
        "select measure, n_scored, inside_95 from projection_score where horizon = 'all'"
    )}  # fmt: skip
    past = read_record(agreed.root).past
    assert {key: (one.scored, one.inside_95) for key, one in past.items()} == stored
    assert not re.search("counted yet", " ".join(page_texts(make_page(sheet_made(read_record(agreed.root))))))
