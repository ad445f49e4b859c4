"""The table inside a sheet made by hand: spacer columns, headers over two lines, footers and repeated headers."""

from __future__ import annotations

import re
from collections.abc import Sequence

from latewood.pipeline.errors import FileUnreadableError

Row = list[str]
_DAY = re.compile(
    r"\d{1,4}[./-]\d{1,2}[./-]\d{2,4}|\d{1,2}\.? [A-Za-z]{3,9}\.? \d{2,4}|[A-Za-z]{3,9} \d{1,2},? \d{4}"
)


def loose_rows(
    name: str, rows: Sequence[Row], lines: Sequence[int], header_lines: int, footers: Sequence[str]
) -> tuple[list[str], list[tuple[int, Row]]]:
    """Return the headers and, with their lines, the rows below them.

    Columns without header and cells go. Rows that repeat the header, rows of one filled cell, and undated rows that
    begin with one of `footers` are left out. Raises FileUnreadableError where nothing is left.
    """
    if len(rows) <= header_lines:
        raise FileUnreadableError(f"{name}: has a header and no rows; export it again from the device")
    width = max(len(row) for row in rows)
    padded = [[cell.strip() for cell in row] + [""] * (width - len(row)) for row in rows]
    heads, body = padded[:header_lines], padded[header_lines:]
    out = {text.casefold() for text in footers}
    kept = [
        (line, row)
        for line, row in zip(lines[header_lines:], body, strict=True)
        if not is_left_out(row, heads, out)
    ]
    headers = joined_headers(heads)
    used = [i for i in range(width) if headers[i] or any(row[i] for _, row in kept)]
    if not used or not kept:
        raise FileUnreadableError(f"{name}: holds no rows below its header; export it again")
    named = distinct([headers[i] or f"column {i + 1}" for i in used])
    return named, [(line, [row[i] for i in used]) for line, row in kept]


def is_left_out(row: Row, heads: Sequence[Row], footers: set[str]) -> bool:
    """Whether a row is a header again, a remark, or a sum; a row with a day in it is none of them."""
    filled = [cell for cell in row if cell]
    alone = len(filled) == 1 and len(row) > 2
    return alone or row in heads or (first_filled(row).casefold() in footers and not has_day(row))


def has_day(row: Sequence[str]) -> bool:
    """Whether a cell of a row looks like a day.

    >>> has_day(["Max", "2032-06-14", "71.2"]), has_day(["Max", "", "71.2"])
    (True, False)
    """
    return any(_DAY.search(cell) for cell in row)


def first_filled(row: Sequence[str]) -> str:
    """The first cell of a row that holds something; '' where none does."""
    return next((cell for cell in row if cell), "")


def joined_headers(heads: Sequence[Row]) -> list[str]:
    """One header a column: a cell of the upper line counts for the blank ones after it, above filled lower cells.

    >>> joined_headers([["Name", "Sprint", ""], ["", "10 yd", "30 yd"]])
    ['Name', 'Sprint 10 yd', 'Sprint 30 yd']
    """
    if len(heads) == 1:
        return list(heads[0])
    joined: list[str] = []
    group = ""
    for upper, lower in zip(heads[0], heads[1], strict=True):
        group = upper or (group if lower else "")
        joined.append(" ".join(part for part in (group, lower) if part))
    return joined


def distinct(headers: Sequence[str]) -> list[str]:
    """The headers with a number behind those that stand there before.

    >>> distinct(["Try", "try", "Name"])
    ['Try', 'try (2)', 'Name']
    """
    observed: dict[str, int] = {}
    named = []
    for header in headers:
        alike = " ".join(header.lower().replace("_", " ").split())
        observed[alike] = observed.get(alike, 0) + 1
        named.append(header if observed[alike] == 1 else f"{header} ({observed[alike]})")
    return named
