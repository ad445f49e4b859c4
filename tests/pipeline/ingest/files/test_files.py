"""Files of many makes give the same rows; files that cannot be read say where and how to correct them."""

from __future__ import annotations

import csv
import io
from typing import Any

import openpyxl
import pytest

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.reading import ReadingOptions, read_table

PLAIN = "name,value\nÅsa Kärr,71.5\nBo Ek,80\n"


def read(content: bytes, name: str = "scale.csv", **options: Any) -> list[list[str]]:
    table = read_table(name, content, ReadingOptions(**options))
    return [table.headers, *table.frame.to_numpy().tolist()]


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "windows-1252"])
def test_every_encoding_gives_the_same_rows(codec: str) -> None:
    assert read(PLAIN.encode(codec)) == [["name", "value"], ["Åsa Kärr", "71.5"], ["Bo Ek", "80"]]


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_every_delimiter_and_line_ending_is_found(mark: str, ending: str) -> None:
    text = PLAIN.replace(",", mark).replace("\n", ending)
    assert read(text.encode()) == [["name", "value"], ["Åsa Kärr", "71.5"], ["Bo Ek", "80"]]


def test_decimal_commas_do_not_pass_for_delimiters() -> None:
    assert read(b"name;mass;split\nBo;71,5;1,60\nAl;80,2;1,71\n")[1] == ["Bo", "71,5", "1,60"]


def test_quotes_hold_delimiters_quotes_and_line_ends() -> None:
    rows = read(b'name,note\n"Ek, Bo","said ""no""\nand left"\n')
    assert rows[1] == ["Ek, Bo", 'said "no"\nand left']


def test_lines_are_those_of_the_file_with_blank_and_skipped_ones_counted() -> None:
    table = read_table("a.csv", b"made by device\nname,value\n\nBo,1\nAl,2\n", ReadingOptions(skip_lines=1))
    assert list(table.lines) == [4, 5]


def test_a_large_file_gives_what_the_strict_reader_gives() -> None:
    rows = "".join(f"A{i},{i}\n" for i in range(40_000))
    table = read_table("big.csv", ("name,value\n" + rows).encode(), ReadingOptions())
    assert table.frame.iloc[-1].tolist() == ["A39999", "39999"]
    assert list(table.lines)[-1] == 40_001


def test_a_large_file_with_one_short_line_names_that_line() -> None:
    rows = [f"A{i},{i}" for i in range(40_000)]
    rows[31_000] = "A31000"
    with pytest.raises(
        FileUnreadableError, match=r"big.csv, line 31002: has 1 fields where the header has 2"
    ):
        read_table("big.csv", ("name,value\n" + "\n".join(rows)).encode(), ReadingOptions())


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "the file is empty"),
        (b"name,value\n", "has a header and no rows"),
        (b"\x89PNG\r\n\x1a\n0000", "is a picture or a PDF, not a table"),
        (b"name,value\nBo,1,2\n", "line 2: has 3 fields where the header has 2"),
        (b"name,value\nBo\n", "line 2: has 1 fields where the header has 2"),
        (b'name,value\nBo,"1\n', "line 2: unexpected end of data"),
        (b"name,name\nBo,1\n", "field 2: the header 'name' stands twice"),
        (b"name,,value\nBo,1,2\n", "field 2: the header is empty"),
        (b"just words\nand more\n", "no comma, semicolon, tab or bar"),
        (b"name,value\nBo\x00,1\n", "line 2: holds NUL"),
        (b"name,value\nB\x81,1\n", "line 2: byte 0x81 is not windows-1252"),
    ],
)
def test_what_cannot_be_read_says_where_and_how_to_mend_it(content: bytes, message: str) -> None:
    with pytest.raises(FileUnreadableError, match=message):
        read(content)


def test_a_stated_encoding_is_held_to() -> None:
    with pytest.raises(FileUnreadableError, match="line 2: byte 0xc5 is not utf-8; state the encoding"):
        read(PLAIN.encode("windows-1252"), encoding="utf-8")


def test_a_workbook_gives_text_as_a_person_reads_it() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Day 1"
    for row in (["made by", None], ["name", "load"], ["Bo", 102.5], ["Al", 100], ["Cy", "n/a"]):
        sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    rows = read(stream.getvalue(), "sheet.xlsx", skip_lines=1)
    assert rows == [["name", "load"], ["Bo", "102.5"], ["Al", "100"], ["Cy", "n/a"]]
    with pytest.raises(FileUnreadableError, match="has no sheet 'Day 2', only 'Day 1'"):
        read(stream.getvalue(), "sheet.xlsx", sheet="Day 2")


def test_a_workbook_with_two_filled_sheets_asks_which() -> None:
    book = openpyxl.Workbook()
    for title in ("Day 1", "Day 2"):
        sheet = book.create_sheet(title)
        sheet.append(["name", "load"])
        sheet.append(["Bo", 100])
    stream = io.BytesIO()
    book.save(stream)
    with pytest.raises(FileUnreadableError, match="has 2 sheets with rows"):
        read(stream.getvalue(), "two.xlsx")
    assert read(stream.getvalue(), "two.xlsx", sheet="Day 2")[1] == ["Bo", "100"]


def test_cells_beside_the_header_of_a_workbook_are_not_dropped() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["name", "load"], ["Bo", 100, 7]):
        sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    with pytest.raises(FileUnreadableError, match="line 2: has 3 fields where the header has 2"):
        read(stream.getvalue(), "wide.xlsx")


def test_what_is_no_workbook_says_so() -> None:
    with pytest.raises(FileUnreadableError, match="cannot be opened as a workbook"):
        read(b"PK\x03\x04 no workbook", "sheet.xlsx")
    with pytest.raises(FileUnreadableError, match="is a web page under the name of a workbook"):
        read(b"<html><table><tr><td>name</td></tr></table></html>", "sheet.xls")


def test_a_text_under_the_name_of_a_workbook_is_read_as_text() -> None:
    assert read("name\tvalue\nBo\t1\n".encode("utf-16"), "export.xls") == [["name", "value"], ["Bo", "1"]]


@pytest.mark.parametrize("letters", [90_000, 140_000, 200_000, 1_200_000])
def test_what_was_read_before_does_not_decide_whether_a_long_field_is_read(letters: int) -> None:
    """The limit of Python's csv is one for the whole process: a build must read what an import has read."""
    content = f"athlete,note\nT1,{'a' * letters}\n".encode()
    words = []
    for limit in (131_072, 2_000_000):
        csv.field_size_limit(limit)
        try:
            words.append(len(read_table("long.csv", content, ReadingOptions()).frame))
        except FileUnreadableError as error:
            words.append(str(error))
    assert words[0] == words[1]
