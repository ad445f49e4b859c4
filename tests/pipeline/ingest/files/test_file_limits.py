"""Files made to fill the memory are refused with one clear error, before they are unpacked or split."""

from __future__ import annotations

import io
import tracemalloc
import zipfile

import pytest

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.limits import LARGEST_LINE, LARGEST_UNPACKED
from latewood.pipeline.ingest.files.reading import ReadingOptions, read_table


def _bomb() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        with archive.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part:
            block = b" " * 10_000_000
            for _ in range(LARGEST_UNPACKED // len(block) + 1):
                part.write(block)
    return out.getvalue()


def test_a_workbook_that_unpacks_to_too_much_is_refused_before_it_is_unpacked() -> None:
    content = _bomb()
    assert len(content) < 1_000_000
    tracemalloc.start()
    with pytest.raises(
        FileUnreadableError, match="unpacks to 510 MB, more than 500 MB; save the table alone"
    ):
        read_table("bomb.xlsx", content, ReadingOptions())
    assert tracemalloc.get_traced_memory()[1] < 10_000_000
    tracemalloc.stop()


def test_one_endless_line_is_refused() -> None:
    with pytest.raises(
        FileUnreadableError, match="has a line of more than 4,000,000 bytes; this is no table"
    ):
        read_table("long.csv", b"a,b\n1," + b"x" * (LARGEST_LINE + 6) + b"\n", ReadingOptions())


def test_a_broken_archive_is_one_clear_error() -> None:
    with pytest.raises(FileUnreadableError, match="cannot be opened as a workbook"):
        read_table("a.xlsx", _bomb()[:500], ReadingOptions())


def test_a_long_file_of_short_lines_is_taken() -> None:
    table = read_table("a.csv", b"a,b\n" + b"1,2\n" * 1_200_000, ReadingOptions())
    assert len(table.frame) == 1_200_000
