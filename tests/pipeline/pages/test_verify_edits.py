"""Every kind of change in every form is told, with its place; a form that cannot be set stops no other."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.pages.family.issue import issue_family
from latewood.pipeline.pages.handout import Handout
from latewood.pipeline.pages.record import read_record
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.issue import Issued, Refused, open_run
from latewood.pipeline.pages.recruit.verify import Verdict, verify
from tests.conftest import Camp
from tests.pipeline.pages.conftest import GIVEN

NO_FONT = "Bo \U00012000 Reed"  # a cuneiform sign


def files_of(camp: Camp) -> dict[str, bytes]:
    (made,) = issue.issue(open_run(camp.root, "Ira", forms=("pdf", "html", "json", "csv")), ("T1",))
    assert isinstance(made, Issued), made
    return {Path(name).suffix[1:]: content for name, content in made.files.items()}


def rows_of(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def written(rows: list[dict[str, str]], mark: str = ",") -> bytes:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, fieldnames=list(rows[0]), delimiter=mark, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def judged(camp: Camp, content: bytes, form: str = "csv") -> Verdict:
    result = verify(camp.root, f"a.{form}", content)
    assert (result.state, result.good) == ("edited", False)
    return result


@pytest.mark.parametrize(
    ("column", "put"),
    [("best", "99.9"), ("latest", "99.9"), ("change", "9.9"), ("change_start", "1.0"), ("percentile", "99"),
     ("name", "Somebody Else"), ("unit", "km/h"), ("method", "radar"), ("latest_on", "2033-01-01"), ("trials", ""),
     ("valid_until", "2039-01-01"), ("page_hash", "0" * 64)],
)  # fmt: skip
@pytest.mark.parametrize("at", [0, 3])
def test_a_cell_changed_in_a_csv_is_named(agreed: Camp, column: str, put: str, at: int) -> None:
    rows = rows_of(files_of(agreed)["csv"])
    was, rows[at][column] = rows[at][column], put
    result = judged(agreed, written(rows))
    assert result.differences == (f"{rows[at]['measure']}, {column}: issued {was!r}, the file says {put!r}",)
    assert "1 place differs" in result.words


def test_rows_and_columns_taken_out_put_in_or_moved_are_told(agreed: Camp) -> None:
    rows = rows_of(files_of(agreed)["csv"])
    for changed in (rows[1:], rows[:-1], [*rows, rows[0]], rows[::-1]):
        assert judged(agreed, written(changed)).differences[0].startswith("measures: issued")
    fewer = [{k: v for k, v in row.items() if k != "best"} for row in rows]
    assert any("best: issued" in one for one in judged(agreed, written(fewer)).differences)
    more = [{**row, "rank": "1"} for row in rows]
    assert "rank: issued '', the file says '1'" in judged(agreed, written(more)).differences[0]
    beyond = files_of(agreed)["csv"].removesuffix(b"\r\n") + b",9\r\n"
    assert "beyond the last column" in judged(agreed, beyond).differences[0]


def test_a_csv_saved_again_by_a_spreadsheet_has_no_differing_cell(agreed: Camp) -> None:
    rows = rows_of(files_of(agreed)["csv"])
    plain = [
        {k: v.removesuffix(".0") if v.replace(".", "", 1).isdigit() else v for k, v in row.items()}
        for row in rows
    ]
    for content in (written(plain), written(rows, ";")):
        result = judged(agreed, content)
        assert result.differences == ()
        assert "the words are those of the page issued" in result.words


def test_numbers_changed_in_page_and_data_are_named(agreed: Camp) -> None:
    files = files_of(agreed)
    data = json.loads(files["json"])
    at = next(place for place, one in enumerate(data["measures"]) if one["key"] == "exit_speed")
    start = data["measures"][at]["growth"]["start"]
    data["measures"][at]["growth"]["start"] = start + 1
    words = judged(agreed, json.dumps(data).encode(), "json").differences
    assert words == (f"measures[{at}].growth.start: issued {start!r}, the file says {start + 1!r}",)
    text = files["html"].decode()
    best = data["measures"][at]["best"]["best"]
    changed = text.replace(f"<b>{best:.1f} mph</b>", "<b>99.9 mph</b>", 1)
    assert changed != text
    assert judged(agreed, changed.encode(), "html").differences == (
        f"issued '{best:.1f}', the file says '99.9'",
    )


def test_a_letter_that_no_font_has_holds_up_the_pdf_only(heath: Camp) -> None:
    consent_book.record(heath.root, replace(GIVEN, name_shown=NO_FONT), "Ira")
    (made,) = issue.issue(open_run(heath.root, "Ira", forms=("pdf", "html", "json", "csv")), ("T1",))
    assert isinstance(made, Issued), made
    assert {Path(name).suffix for name in made.files} == {".html", ".json", ".csv"}
    assert list(made.missing) == ["pdf"]
    assert "cannot be made" in made.missing["pdf"]
    assert audit.lines(heath.root)[-1].details["forms"] == "html, json, csv"
    assert all(verify(heath.root, name, content).good for name, content in made.files.items())
    (alone,) = issue.issue(open_run(heath.root, "Ira", forms=("pdf",)), ("T1",))
    assert isinstance(alone, Refused)
    assert "cannot be made" in alone.why


def test_the_same_holds_for_a_family_page(heath: Camp) -> None:
    given = replace(GIVEN, name_shown=NO_FONT, purpose=FAMILY, fields=("height",))
    consent_book.record(heath.root, given, "Ira")
    made = issue_family(read_record(heath.root), "T1", "Ira", Handout(forms=("pdf", "html")))
    assert [Path(name).suffix for name in made.files] == [".html"]
    assert list(made.missing) == ["pdf"]
    assert audit.lines(heath.root)[-1].details["forms"] == "html"
    with pytest.raises(SummaryError, match="cannot be made"):
        issue_family(read_record(heath.root), "T1", "Ira", Handout(forms=("pdf",)))
