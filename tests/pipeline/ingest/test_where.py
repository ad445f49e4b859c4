"""Errors name the line on which the header really stands; ids broken over two lines find their athlete."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from latewood.dashboard.views.data.steward import Question, offered_answers
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.mapping import Mapping
from latewood.pipeline.ingest.files.reading import ReadingOptions, TextTable, read_table
from latewood.pipeline.ingest.files.shape import cells_of, columns_of, kind_of
from latewood.pipeline.warehouse.connection import read_sql
from latewood.pipeline.warehouse.lookups import ids_of
from latewood.pipeline.warehouse.rules import RULES, UNREADABLE

BODY = "who;when\nT1;2032-06-02\n"


@pytest.mark.parametrize(("above", "skip"), [("\n\n\n\n", 0), ("a\nb\nc\nd\n", 4), ("a\n\n\n\n", 1)])
def test_errors_about_columns_name_the_line_of_the_header(above: str, skip: int) -> None:
    table = read_table("x.csv", (above + BODY).encode(), ReadingOptions(skip_lines=skip, delimiter=";"))
    assert table.header_line == 5
    with pytest.raises(FileUnreadableError, match=r"^x\.csv, line 5: the columns"):
        kind_of("x.csv", table, None)
    with pytest.raises(FileUnreadableError, match=r"^x\.csv, line 5: has no column"):
        columns_of("x.csv", table, Mapping(), ("athlete",), ())
    with pytest.raises(FileUnreadableError, match=r"^x\.csv, line 5: has no column"):
        cells_of("x.csv", table, Mapping(), load_catalogue())


def test_a_header_that_nothing_splits_is_named_by_its_line() -> None:
    with pytest.raises(FileUnreadableError, match=r"^x\.csv, line 5: no comma"):
        read_table("x.csv", b"a\nb\n\n\nheader\nvalue\n", ReadingOptions(skip_lines=2))


def test_a_sheet_is_named_with_its_line() -> None:
    table = read_table("x.csv", BODY.encode(), ReadingOptions(delimiter=";"))
    sheet = TextTable(frame=table.frame, lines=table.lines, header_line=7, sheet="Day 2")
    with pytest.raises(FileUnreadableError, match=r"^b\.xlsx, sheet 'Day 2', line 7: the columns"):
        kind_of("b.xlsx", sheet, None)


@given(st.from_regex(r"[A-Z]{1,3}-[0-9]{2,5}", fullmatch=True), st.data())
def test_an_id_broken_anywhere_finds_its_athlete(athlete: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(1, len(athlete) - 1))
    end = data.draw(st.sampled_from(["\n", "\r\n", " \n", "\n "]))
    assert ids_of(athlete[:at] + end + athlete[at:], {athlete: [athlete]}) == [athlete]
    assert ids_of(athlete[:at] + " " + athlete[at:], {athlete: [athlete]}) == ()


@pytest.mark.parametrize("rule", sorted(RULES))
def test_what_cannot_be_read_is_not_offered_as_it_stands(rule: str) -> None:
    requested = Question(key="k", rule=rule, title="", about="", lines=(), held_ids=("a", "b"), target="",
                     proposal="", can_fix=False, needs_athlete=False)  # fmt: skip
    assert ("accept" in offered_answers(requested)) == (rule not in UNREADABLE)


def test_the_screen_and_the_deed_refuse_the_same() -> None:
    listed = re.search(r"rule not in \((.*?)\)", read_sql("read/held_for_decision.sql"), re.DOTALL)
    assert listed is not None
    assert set(re.findall(r"'(\w+)'", listed[1])) == UNREADABLE
