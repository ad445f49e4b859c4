"""Whatever stands in the cells comes back, and no row is lost on the way."""

from __future__ import annotations

import csv
import io

from hypothesis import example, given, settings
from hypothesis import strategies as st

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files import reading
from latewood.pipeline.ingest.files.even import is_even
from latewood.pipeline.ingest.files.reading import ReadingOptions, read_table

CELL = st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=12)
WORD = st.text(st.characters(whitelist_categories=("L", "N")), min_size=1, max_size=8)


@given(
    headers=st.lists(WORD, min_size=2, max_size=5, unique=True),
    rows=st.lists(st.lists(CELL, min_size=5, max_size=5), max_size=12),
    delimiter=st.sampled_from(",;\t|"),
    codec=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    ending=st.sampled_from(["\n", "\r\n"]),
)
def test_written_by_the_standard_writer_it_is_read_back(
    headers: list[str], rows: list[list[str]], delimiter: str, codec: str, ending: str
) -> None:
    kept = [["first", *[""] * (len(headers) - 1)], *(row[: len(headers)] for row in rows)]
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter, lineterminator=ending)
    writer.writerow(headers)
    writer.writerows(kept)
    table = read_table("any.csv", stream.getvalue().encode(codec), ReadingOptions(delimiter=delimiter))
    assert table.headers == headers
    assert table.frame.to_numpy().tolist() == [row for row in kept if any(cell.strip() for cell in row)]


@given(content=st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_in_one_line(content: bytes) -> None:
    for name in ("any.csv", "any.xlsx"):
        try:
            table = read_table(name, content, ReadingOptions())
        except FileUnreadableError as error:
            assert str(error).startswith(name)
            assert "\n" not in str(error).replace("\\n", "")
        else:
            assert len(table.frame) == len(table.lines)


PIECES = ('"', '""', ",", "\n", "\r\n", "\r", " ", "a", "é", "1", "5'11\"", '"b,c"', ",,", "NA", "\ufeff")


@settings(deadline=None)
@given(pieces=st.lists(st.sampled_from(PIECES), max_size=25), headers=st.integers(1, 3))
@example(pieces=["a", ",", "1", "\n", "a", "\n", "a", ",", "1", ",", "1"], headers=2)  # as many fields in all
@example(pieces=['"b,c"', ",", '"b,c"', "a", "\n"], headers=2)
@example(pieces=["\n", "a", ",", "1"], headers=2)
def test_what_is_read_at_once_is_what_the_strict_reader_reads(pieces: list[str], headers: int) -> None:
    text = ",".join("xyz"[:headers]) + "\n" + "".join(pieces)
    for typed in (None, reading.Typed()):
        at_once = reading._read_fast("any.csv", text, ",", 0, typed)
        if at_once is None:
            continue
        rows, lines = reading.split_rows("any.csv", text, ",", 0)
        frame, places = reading._as_frame("any.csv", rows, lines)
        assert at_once[0].to_numpy().tolist() == frame.to_numpy().tolist()
        assert list(at_once[1]) == list(places)


@settings(deadline=None)
@given(
    rows=st.lists(st.lists(CELL, min_size=2, max_size=2), min_size=1, max_size=12),
    quoting=st.sampled_from([0, 1]),
)
def test_a_file_that_a_writer_made_is_read_at_once(rows: list[list[str]], quoting: int) -> None:
    stream = io.StringIO()
    csv.writer(stream, quoting=quoting, lineterminator="\n").writerows([["first", *row] for row in rows])
    assert is_even(stream.getvalue(), ",", 3)
    assert not is_even(stream.getvalue() + "first,a\n", ",", 3)
