"""The printed roster: everybody at the camp by name, a box for each test day, nothing restricted on it."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, timedelta

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.pages.camp.record import CampRow
from latewood.pipeline.pages.recruit.pdf import pdf_text
from latewood.pipeline.pages.roster.make import (
    MOST_DAYS,
    OFF,
    Roster,
    RosterRow,
    make_roster_page,
    read_roster,
    render_book,
    render_roster,
)
from tests.conftest import Camp

START = date(2032, 6, 1)
ROW = RosterRow(
    name="Ann Fen", athlete_id="T1", sport="softball", positions="P/1B", bats="L", throws=None, group="Early",
    arrived_on=START, left_on=None, planned_until=START + timedelta(days=20),
)  # fmt: skip


def _roster(**changed: object) -> Roster:
    made = Roster(
        program="Heath", invented=True, build_id="0" * 16, made_on=START, rows=(ROW,),
        camp=CampRow(camp_id="K", label="Heath 32", starts_on=START, ends_on=START + timedelta(days=60)),
        days=tuple(START + timedelta(days=10 * n) for n in range(5)),
    )  # fmt: skip
    return replace(made, **changed)


def test_a_box_for_each_test_day_and_a_dash_where_somebody_is_not_here() -> None:
    page = make_roster_page(_roster())
    assert page.boxes == ("1 Jun", "11 Jun", "21 Jun", "1 Jul", "11 Jul")
    assert page.rows == (
        (
            "Ann Fen",
            "T1",
            "softball",
            "P/1B",
            "L/?",
            "Early",
            "1 Jun 2032 to 21 Jun 2032",
            "",
            "",
            "",
            OFF,
            OFF,
        ),
    )
    assert page.calendar.startswith("Test days: 1 Jun 2032, 11 Jun 2032")
    gone = replace(ROW, left_on=START + timedelta(days=5))
    assert make_roster_page(_roster(rows=(gone,))).rows[0][-5:] == ("", OFF, OFF, OFF, OFF)
    many = tuple(START + timedelta(days=n) for n in range(20))
    assert len(make_roster_page(_roster(days=many)).boxes) == MOST_DAYS
    assert "6 later days without a box here." in make_roster_page(_roster(days=many)).calendar
    assert make_roster_page(_roster(days=())).calendar == "No test day is set."


def test_a_long_roster_has_its_head_on_every_sheet_and_the_book_has_a_column_a_day() -> None:
    rows = tuple(replace(ROW, athlete_id=f"T{n}") for n in range(60))
    text = pdf_text(render_roster(_roster(rows=rows)))
    assert text.count("Positions") >= 2
    assert all(f"T{n}" in text for n in range(60))
    heads, first, *_ = load_workbook(io.BytesIO(render_book(_roster())))["Roster"].iter_rows(values_only=True)
    assert heads[-5:] == tuple(on.isoformat() for on in _roster().days)
    assert (first[0], first[-1]) == ("Ann Fen", OFF)


def test_the_command_notes_it_and_prints_no_birth_date(built_camp: Camp, tmp_path) -> None:
    asked = ["roster", "--camp", "K", "--form", "xlsx", "--out", str(tmp_path), "--by", "Ira"]
    done = CliRunner().invoke(app, [*asked, "--data", str(built_camp.root)])
    assert done.exit_code == 0, done.output
    assert audit.lines(built_camp.root)[-1].details["what"] == "roster"
    born = {
        str(row[0]) for row in built_camp.rows("select birth_date from athlete where birth_date is not null")
    }
    roster = read_roster(built_camp.root, "K")
    assert born and not born & {str(value) for row in roster.rows for value in (row.arrived_on, row.left_on)}
    assert not any(one in str(make_roster_page(roster)) for one in born)
    with pytest.raises(SummaryError, match="there is no camp 'X'"):
        read_roster(built_camp.root, "X")


@pytest.mark.parametrize("text", ["=HYPERLINK(1)", "+1", "-1", "@x", "\t=1"])
def test_no_cell_of_a_workbook_begins_like_a_formula(text: str) -> None:
    hostile = replace(ROW, name=text, group=text, positions=text)
    book = load_workbook(io.BytesIO(render_book(_roster(rows=(hostile,), program=text))))
    for sheet in book:
        for cell in (cell for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)):
            assert cell.data_type != "f"
            assert not cell.value.startswith(("=", "+", "-", "@", "\t")), cell.value
