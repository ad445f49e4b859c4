"""Finds the table in a file: its sheets, separator, header line, footers; what it means is asked elsewhere."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from latewood.pipeline.catalogue.units import find_unit
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.book import book_marks, check_marks, hidden_note
from latewood.pipeline.ingest.files.loose import (
    first_filled,
    has_day,
    is_left_out,
    joined_headers,
    part_of,
    table_starts,
)
from latewood.pipeline.ingest.files.reading import (
    DELIMITERS,
    ReadingOptions,
    decode,
    is_workbook,
    open_book,
    read_table,
    sheet_texts,
    split_rows,
)
from latewood.pipeline.ingest.look.headers import half_days
from latewood.pipeline.ingest.look.proposal import Sheet
from latewood.pipeline.ingest.look.words import FOOTERS

SEARCHED = 25  # filled lines among which the header is looked for
MOST_LINES = 400  # of a file that are looked at for its separator
TURNED = "measures stand below each other: rows and columns are exchanged, and a line is a column of the file"
_NUMBERLIKE = re.compile(r"[-+]?[\d.,'\"/:\- ]*\d[\d.,'\"/:\- ]*")
Scores = Callable[[str], float]
Rows = list[list[str]]
Grid = list[tuple[int, list[str]]]


def sheets_of(name: str, content: bytes, score: Scores) -> Iterator[tuple[str, Sheet | FileUnreadableError]]:
    """Each table of a file by the name of its sheet, or why it cannot be read.

    `score` says of a header how much it looks like one. Raises FileUnreadableError where the file cannot be opened.
    """
    if not is_workbook(name, content):
        for table in _tables(name, content, score):
            yield "", table
        return
    book, marks = open_book(name, content), book_marks(content)
    for sheet in book.sheet_names:
        texts = sheet_texts(name, book, sheet)
        if sum(any(row) for row in texts) < 2:
            continue
        try:
            check_marks(name, sheet, marks)
            grid = [(line, row) for line, row in enumerate(texts, start=1) if any(row)]
            for table in _framed(name, content, grid, ReadingOptions(sheet=sheet), score):
                yield sheet, replace(table, notes=hidden_note(marks.get(sheet)))
        except FileUnreadableError as error:
            yield sheet, error


def _tables(name: str, content: bytes, score: Scores) -> Iterator[Sheet]:
    read_as_table(name, content)
    text, codec = decode(name, content, "")
    delimiter = best_delimiter(text)
    rows, lines = split_rows(name, text, delimiter, 0)
    result = ReadingOptions(encoding=codec.removesuffix("-sig"), delimiter=delimiter)
    yield from _framed(name, content, list(zip(lines, rows, strict=True)), result, score)


def read_as_table(name: str, content: bytes) -> None:
    """Raise FileUnreadableError where a file is empty, too large, or a picture."""
    if not content or content.startswith((b"\x89PNG", b"%PDF", b"\xff\xd8", b"GIF8")):
        read_table(name, content, ReadingOptions())


def best_delimiter(text: str) -> str:
    """The separator that splits most lines into equally many cells, over one; a comma where none does."""
    sample = [line for line in text.splitlines()[:MOST_LINES] if line.strip()]

    def agreement(delimiter: str) -> tuple[float, int]:
        widths = [line.count(delimiter) for line in sample]
        filled = [w for w in widths if w]
        if not filled:
            return 0.0, 0
        usual = max(set(filled), key=filled.count)
        return filled.count(usual) / len(sample), usual

    return max(DELIMITERS, key=agreement)


def _framed(name: str, content: bytes, grid: Grid, options: ReadingOptions, score: Scores) -> Iterator[Sheet]:
    """The tables of one sheet: mostly one, else those that stand one below the other."""
    rows = [[cell.strip() for cell in row] for _, row in grid]
    start, height = header_at(rows, score)
    rows, lines = rows[start:], [line for line, _ in grid[start:]]
    tables = 1 + len(table_starts(rows, lines, height))
    for part in range(1, tables + 1) if tables > 1 else (0,):
        within = part_of(rows, lines, height, part)[:2] if part else (rows, lines)
        full = replace(options, skip_lines=lines[0] - 1, loose=True, header_lines=height, part=part)
        yield _sheet(name, content, within, full)


def _sheet(name: str, content: bytes, within: tuple[Rows, list[int]], options: ReadingOptions) -> Sheet:
    height = options.header_lines if options.part <= 1 else 1
    heads = within[0][:height]
    body = list(zip(within[1], within[0], strict=True))[height:]
    footers = tuple(dict.fromkeys(first_filled(r) for _, r in body if is_footer(r)))
    gone = {text.casefold() for text in footers}
    out = [(line, first_filled(r)) for line, r in body if is_left_out(r, heads, gone)]
    full = replace(options, footers=footers)
    return Sheet(table=read_table(name, content, full), options=full, dropped=tuple(out))


def turned_sheet(name: str, content: bytes, sheet: Sheet, heads: Callable[[str], bool]) -> Sheet:
    """The same table with rows and columns exchanged; it begins where `heads` knows two cells of a line.

    Raises FileUnreadableError.
    """
    first = min(sheet.options.skip_lines, _lines_above(name, content, sheet.options, heads))
    options = replace(sheet.options, turned=True, header_lines=1, footers=(), skip_lines=first)
    table = read_table(name, content, options)
    rows = [table.headers, *table.frame.to_numpy().tolist()]
    full = replace(options, header_lines=2 if len(rows) > 2 and _are_units(rows[1][1:]) else 1)
    return replace(_sheet(name, content, (rows, [1, *table.lines]), full), notes=(*sheet.notes, TURNED))


def _lines_above(name: str, content: bytes, options: ReadingOptions, heads: Callable[[str], bool]) -> int:
    """How many lines stand above the first of which `heads` knows two cells."""
    if options.sheet:
        rows = sheet_texts(name, open_book(name, content), options.sheet)
        lines = list(range(1, len(rows) + 1))
    else:
        text, _ = decode(name, content, options.encoding)
        rows, lines = split_rows(name, text, options.delimiter, 0)
    told = (
        line for line, row in zip(lines, rows, strict=True) if sum(heads(cell.strip()) for cell in row) > 1
    )
    return next(told, options.skip_lines + 1) - 1


def header_at(rows: Sequence[Sequence[str]], score: Scores) -> tuple[int, int]:
    """Which of the filled lines is the header, and over how many lines it goes (1 or 2)."""
    width = max(len(row) for row in rows)
    best, most = (0, 1), -1.0
    for start in range(min(SEARCHED, len(rows) - 1)):
        for height in (1, 2):
            heads = [[*row, *[""] * (width - len(row))] for row in rows[start : start + height]]
            if start + height >= len(rows) or (height == 2 and not _goes_on(heads)):
                continue
            texts = [h for h in joined_headers(heads) if h]
            points = sum(score(h) for h in texts) + 0.1 * len(texts) - 0.05 * start
            points -= 1.5 * sum(
                is_number(cell) and not (has_day([cell]) or half_days(cell)) for cell in heads[0]
            )
            points += 0.5 * (height == 2 and _are_units(heads[1]))
            if len(texts) > 1 and points > most + 0.01:
                best, most = (start, height), points
    return best


def _goes_on(heads: Sequence[Sequence[str]]) -> bool:
    """Whether a second line can belong to the header: no numbers but distances and trials, or units throughout."""
    lower = [cell for cell in heads[1] if cell]
    if not lower or (any(is_number(cell) for cell in lower) and not _counts_trials(heads)):
        return False
    below_blank = sum(1 for up, low in zip(heads[0], heads[1], strict=True) if low and not up)
    return _are_units(heads[1]) or below_blank > 0


def _counts_trials(heads: Sequence[Sequence[str]]) -> bool:
    """Whether all numbers of a second line are 1, 2, 3 under one cell of the first, and none is under its first cell.

    >>> heads = ["Name", "Jump", ""]
    >>> _counts_trials([heads, ["", "1", "2"]]), _counts_trials([heads, ["Arlo", "1", "2"]])
    (True, False)
    """
    run, runs = 0, list[int]()
    for upper, lower in zip(*heads, strict=True):
        run = int(lower) if lower == ("1" if upper else str(run + 1)) else 0
        if is_number(lower) and not run:
            return False
        if run > 1:
            runs[-1] = run
        elif run:
            runs.append(run)
    below_first = next((low for up, low in zip(*heads, strict=True) if up), "")
    return not below_first and bool(runs) and min(runs) > 1


def _are_units(row: Sequence[str]) -> bool:
    """Whether a line holds units alone."""
    filled = [cell.strip("()[]") for cell in row if cell]
    return bool(filled) and all(find_unit(cell) is not None for cell in filled)


def is_number(text: str) -> bool:
    """Whether a cell holds a number, a day or a time, as those of a header do not."""
    return bool(text) and _NUMBERLIKE.fullmatch(text) is not None


def is_footer(row: Sequence[str]) -> bool:
    """Whether a row below the table sums it up, and is no reading: undated, its first words those of sums alone.

    >>> is_footer(["Team average", "", "71.2"]), is_footer(["Max", "2032-06-14", "71.2"])
    (True, False)
    """
    filled = [cell for cell in row if cell]
    words = re.findall(r"[^\W\d_]+", filled[0].casefold())
    return bool(words) and not has_day(row) and all(word in FOOTERS for word in words)
