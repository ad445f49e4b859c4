"""Sheets of a workbook that somebody prints and filters: heads that repeat, one page wide, numbers as numbers."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import date, datetime

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from latewood.pipeline.pages.recruit.data import safe_cell

Cell = str | int | float | bool | date | None
OF_ROW = "unit of the row"  # numbers under heads that say so have the decimals of their row
WIDEST = 46


def new_book(title: str, creator: str, made_on: date) -> tuple[Workbook, Worksheet]:
    """A workbook with one empty sheet; the day, not the clock, is its stamp, so that equal content is equal."""
    book = Workbook()
    first = book.active
    if not isinstance(first, Worksheet):
        raise TypeError("a new workbook has no sheet")
    stamp = datetime(made_on.year, made_on.month, made_on.day)
    book.properties.created = book.properties.modified = stamp
    book.properties.creator, book.properties.title = creator, title
    return book, first


def book_bytes(book: Workbook) -> bytes:
    """The workbook as a file."""
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def write_lines(sheet: Worksheet, texts: Sequence[str]) -> None:
    """Lines of text, one below the other."""
    for text in texts:
        if text:
            sheet.append([safe_cell(text)])
    sheet.column_dimensions["A"].width = 120
    for row in sheet.iter_rows():
        row[0].alignment = Alignment(wrap_text=True, vertical="top")
    _set_print(sheet)


def write_table(
    sheet: Worksheet, heads: Sequence[str], rows: Sequence[Sequence[Cell]], decimals: Sequence[int] = ()
) -> None:
    """A table with a filter on every column; `decimals` gives the places of a row's numbers, a row each."""
    sheet.append(list(heads))
    for number, row in enumerate(rows):
        sheet.append([safe_cell(cell) if isinstance(cell, str) else cell for cell in row])
        places = decimals[number] if decimals else 0
        for head, cell in zip(heads, sheet[sheet.max_row], strict=True):
            if isinstance(cell.value, float) and OF_ROW in head:
                cell.number_format = "0." + "0" * places if places else "0"
            elif isinstance(cell.value, date):
                cell.number_format = "yyyy-mm-dd"
    for at, (head, cell) in enumerate(zip(heads, sheet[1], strict=True), start=1):
        cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="top")
        wide = max([12, *(len(str(row[at - 1] or "")) for row in rows)])
        sheet.column_dimensions[get_column_letter(at)].width = min(WIDEST, max(wide, len(head) // 2)) + 1
    sheet.freeze_panes = "C2"
    sheet.auto_filter.ref = sheet.dimensions
    sheet.print_title_rows = "1:1"
    _set_print(sheet)


def _set_print(sheet: Worksheet) -> None:
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.oddFooter.left.text, sheet.oddFooter.right.text = "&A", "Page &P of &N"
