"""Limits on files that would fill the memory: told before anything is unpacked or split."""

from __future__ import annotations

import io
import zipfile

from latewood.pipeline.errors import FileUnreadableError

LARGEST_UNPACKED = 500_000_000  # bytes; a workbook of this size is no table to import
LARGEST_LINE = 4_000_000  # bytes


def check_unpacked(name: str, content: bytes) -> None:
    """Raise FileUnreadableError where a workbook would unpack to more than LARGEST_UNPACKED.

    Sizes are those the archive states: a part that holds more than it states fails when it is read.
    """
    if not zipfile.is_zipfile(io.BytesIO(content)):
        return
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            size = sum(part.file_size for part in archive.infolist())
    except (zipfile.BadZipFile, ValueError, OSError) as error:
        raise FileUnreadableError(
            f"{name}: cannot be opened as a workbook ({error}); save it again as .xlsx or CSV"
        ) from error
    if size > LARGEST_UNPACKED:
        most = f"{LARGEST_UNPACKED / 1e6:,.0f} MB"
        raise FileUnreadableError(
            f"{name}: unpacks to {size / 1e6:,.0f} MB, more than {most}; save the table alone as CSV"
        )


def check_lines(name: str, content: bytes) -> None:
    """Raise FileUnreadableError where one line is longer than LARGEST_LINE."""
    start = 0
    while len(content) - start > LARGEST_LINE:
        end = content.rfind(b"\n", start, start + LARGEST_LINE + 1)
        if end < 0:
            raise FileUnreadableError(
                f"{name}: has a line of more than {LARGEST_LINE:,} bytes; this is no table, export it again"
            )
        start = end + 1
