"""Whatever stands in the cells comes back, and no row is lost on the way."""

from __future__ import annotations

import csv
import io

from hypothesis import given
from hypothesis import strategies as st

from latewood.pipeline.errors import FileUnreadableError
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
