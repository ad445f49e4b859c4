"""The table inside a sheet made by hand: spacer columns, headers over two lines, footers and repeated headers."""

from __future__ import annotations

import re
from collections.abc import Sequence

from latewood.pipeline.errors import FileUnreadableError

Row = list[str]
_WHOLE = re.compile(r"[-+]?[\d.,:/'\"\- ]*\d[\d.,:/'\"\- ]*")  # a number, a day or a time, as no header is
_NO_VALUE = frozenset([
    "dnf",
    "dns",
    "dnp",
    "abs",
    "absent",
    "n/a",
    "na",
    "-",
    "--",
    "inj",
    "injured",
    "out",
    "x",
    "sick",
    "none",
])
_DAY = re.compile(
    r"\d{1,4}[./-]\d{1,2}[./-]\d{2,4}|\d{1,2}\.? [A-Za-z]{3,9}\.? \d{2,4}|[A-Za-z]{3,9} \d{1,2},? \d{4}"
)


def loose_rows(
    name: str, rows: Sequence[Row], lines: Sequence[int], header_lines: int, footers: Sequence[str]
) -> tuple[list[str], list[tuple[int, Row]], list[int]]:
    """Return the headers and, with their lines, the rows below them, and which columns of the sheet they are, from 1.

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
    return named, [(line, [row[i] for i in used]) for line, row in kept], [i + 1 for i in used]


def part_of(
    rows: Sequence[Row], lines: Sequence[int], header_lines: int, part: int
) -> tuple[list[Row], list[int], list[Row]]:
    """One of the tables that stand one below the other, the first is 1: its rows, their lines, and the title above it.

    Another table begins where a row of words alone repeats some headers and not all, or stands below a blank line and
    above numbers. There is nothing where the file has fewer tables.
    """
    starts = [0, *table_starts(rows, lines, header_lines), len(rows)]
    if part >= len(starts):
        return [], [], []
    first, end = starts[part - 1], starts[part]
    title = _title_before(rows, first) if part > 1 else first
    if part + 1 < len(starts):
        end = _title_before(rows, end)
    return list(rows[first:end]), list(lines[first:end]), list(rows[title:first])


def turned_rows(rows: Sequence[Row]) -> tuple[list[Row], list[int]]:
    """Rows and columns exchanged, without blank ones, and which column of the file each row was, from 1.

    >>> turned_rows([["Test", "", "Arlo"], ["Wt (kg)", "", "71"]])
    ([['Test', 'Wt (kg)'], ['Arlo', '71']], [1, 3])
    """
    width = max((len(row) for row in rows), default=0)
    columns = [[row[i] if i < len(row) else "" for row in rows] for i in range(width)]
    kept = [(i, column) for i, column in enumerate(columns, start=1) if any(cell.strip() for cell in column)]
    return [column for _, column in kept], [i for i, _ in kept]


def table_starts(rows: Sequence[Row], lines: Sequence[int], header_lines: int) -> list[int]:
    """Where, behind the first, further tables begin."""
    starts: list[int] = []
    heads: Sequence[Row] = rows[:header_lines]
    for i in range(header_lines, len(rows) - 1):
        gap = lines[i] - lines[i - 1] > 1 or _title_before(rows, i) < i
        if _begins_table(_stripped(rows[i]), [_stripped(h) for h in heads], _stripped(rows[i + 1]), gap=gap):
            starts.append(i)
            heads = [rows[i]]
    return starts


def _title_before(rows: Sequence[Row], at: int) -> int:
    """Where the lines of one filled cell begin that stand directly above a row."""
    while at > 0 and sum(bool(cell.strip()) for cell in rows[at - 1]) == 1:
        at -= 1
    return at


def _stripped(row: Row) -> Row:
    return [cell.strip() for cell in row]


def _begins_table(row: Row, heads: Sequence[Row], below: Row, *, gap: bool) -> bool:
    filled = [cell for cell in row if cell]
    if len(filled) < 2 or any(
        any(c.isdigit() for c in cell.split()[0]) and _WHOLE.fullmatch(cell) for cell in filled
    ):
        return False
    alike = [_same(cell, head[i]) for head in heads for i, cell in enumerate(row) if cell and i < len(head)]
    if _repeats(row, heads) or len(set(map(str.casefold, filled))) < len(filled):
        return False
    if sum(alike) >= min(2, len(filled) - 1):
        return True
    numbers = any(_WHOLE.fullmatch(below[i]) for i, cell in enumerate(row[: len(below)]) if cell and below[i])
    return gap and numbers and not any(cell.casefold() in _NO_VALUE for cell in filled)


def _same(one: str, other: str) -> bool:
    return one.casefold() == other.strip().casefold()


def _repeats(row: Row, heads: Sequence[Row]) -> bool:
    """Whether a row is a line of the header once more, whatever its capitals."""
    return any(
        len(row) >= len(head)
        and all(_same(a, b) for a, b in zip(row, [*head, *[""] * len(row)], strict=False))
        for head in heads
    )


def is_left_out(row: Row, heads: Sequence[Row], footers: set[str]) -> bool:
    """Whether a row is a header again, a remark, or a sum; a row with a day in it is none of them."""
    filled = [cell for cell in row if cell]
    alone = len(filled) == 1 and len(row) > 2
    return alone or _repeats(row, heads) or (first_filled(row).casefold() in footers and not has_day(row))


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
