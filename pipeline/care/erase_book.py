"""Writes a workbook anew without one athlete: rows, other cells, comments, names of sheets, properties of the file."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import chain
from typing import Any, Final
from xml.etree import ElementTree

import openpyxl
import python_calamine
from openpyxl.cell.cell import MergedCell
from openpyxl.workbook import Workbook

from latewood.pipeline.care.erase_sides import Piece, is_in
from latewood.pipeline.care.erase_sought import ERASED, Sought
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.warehouse.lookups import plain_name

WRITABLE: Final = (".xlsx", ".xlsm")
_PROPERTIES: Final = (
    "creator", "lastModifiedBy", "title", "subject", "description", "keywords", "category", "contentStatus",
)  # fmt: skip
_TEXTS: Final = {"si", "is", "comment", "text", "f", "v", "definedName"}
_PAGES: Final = ("odd", "even", "first")
_PLACED: Final = re.compile(
    r"&(?:\"[^\"]*\"|K[0-9A-Fa-f]{6}|\d+|[A-Za-z])"
)  # &L, &"Arial,Bold", &12 before a text


@dataclass(frozen=True, slots=True, kw_only=True)
class BookChange:
    """What goes from a workbook: rows of the sheet that was read, what names them elsewhere, texts decided upon."""

    rows: Mapping[str, Collection[int]]  # by each sheet that was read
    athlete_column: str
    equal: frozenset[str]  # ids and names that are a whole cell
    sought: Sought
    texts: Collection[str]
    pieces: Mapping[str, Collection[Piece]] = field(default_factory=dict)  # of rows that are another's too
    turned: Mapping[str, int] = field(default_factory=dict)  # sheets read by columns, below so many lines


def without_athlete(name: str, content: bytes, change: BookChange) -> bytes:
    """The workbook without the athlete, kept as .xlsx content. Raises SummaryError where it cannot be written anew."""
    if not name.lower().endswith(WRITABLE):
        raise SummaryError(
            f"{name}: cannot be written anew; save it as .xlsx, import that and withdraw this one"
        )
    book = openpyxl.load_workbook(io.BytesIO(content), keep_vba=name.lower().endswith(".xlsm"))
    _reckoned(book, content)
    for sheet in book.worksheets:
        read, turned = change.rows.get(sheet.title), sheet.title in change.turned
        pieces = change.pieces.get(sheet.title, ())
        lines, across = ((), read or ()) if turned else (read or (), ())
        columns = _columns_of_athletes(sheet, change.athlete_column)
        for row in sheet.iter_rows():
            theirs = _names_one(row, columns, change) if read is None else row[0].row in lines
            for cell in row:
                below = cell.row > change.turned.get(sheet.title, 0)
                own = (below and cell.column in across) or is_in(cell.row, cell.column, pieces)
                _clear(cell, change, whole=theirs or own)
            if not theirs:
                _clear_run(row, change.sought)
    _clear_book(book, change)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _reckoned(book: Workbook, content: bytes) -> None:
    """Put the stored results in the place of formulas, whose results would not be written."""
    results = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in (one for one in row if one.data_type == "f"):
                cell.value = results[sheet.title][cell.coordinate].value


def _columns_of_athletes(sheet: Any, header: str) -> set[int]:  # noqa: ANN401  openpyxl has no types
    result = set()
    for row in sheet.iter_rows(max_row=20):
        result |= {cell.column for cell in row if header and str(cell.value or "").strip() == header}
    return result


def _names_one(row: Any, columns: set[int], change: BookChange) -> bool:  # noqa: ANN401
    """Whether a row of another sheet is theirs: an id that is a number counts only under the same header."""
    for cell in row:
        text = _text(cell.value)
        telling = text not in change.sought.bare_ids or cell.column in columns
        if text and telling and (text in change.equal or plain_name(text) in change.equal):
            return True
    return change.sought.is_row([_text(cell.value) for cell in row])


def _clear_run(row: Any, sought: Sought) -> None:  # noqa: ANN401
    """Empty the cells of a name that runs over several of them beside other words."""
    at, places = 0, []
    filled = [cell for cell in row if _text(cell.value)]
    for cell in filled:
        places.append((at, at + len(_text(cell.value)), cell))
        at = places[-1][1] + 1
    for start, end in sought.spans(" ".join(_text(cell.value) for cell in filled)):
        for first, last, cell in places:
            if first < end and start < last and not isinstance(cell, MergedCell):
                cell.value = ERASED


def _text(value: object) -> str:
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return "" if value is None else str(value).strip()


def _clear(cell: Any, change: BookChange, *, whole: bool) -> None:  # noqa: ANN401
    if isinstance(cell, MergedCell):
        return
    if whole:
        cell.value = cell.comment = cell.hyperlink = None
        return
    if isinstance(cell.value, str):
        new = ERASED if cell.value.strip() in change.texts else change.sought.replaced(cell.value)
        if new != cell.value:
            cell.value = new
    text = cell.comment
    if text is not None and _differs(f"{text.text}\n{text.author}", change):
        cell.comment = None
    link = cell.hyperlink
    if link is not None and _differs(f"{link.target or ''} {link.tooltip or ''}", change):
        cell.hyperlink = None


def _differs(text: str, change: BookChange) -> bool:
    return change.sought.found(text) or any(one in text for one in change.texts)


def _clear_book(book: Workbook, change: BookChange) -> None:
    """Names of sheets, headers and footers, names of ranges and properties of the file that name them."""
    for sheet in book.worksheets:
        if _differs(sheet.title, change):
            named = change.sought.found(sheet.title)
            sheet.title = change.sought.replaced(sheet.title) if named else ERASED
        for line in (getattr(sheet, page + place) for page in _PAGES for place in ("Header", "Footer")):
            for part in (line.left, line.center, line.right):
                part.text = change.sought.replaced(part.text) if part.text else part.text
        for name in [n for n, one in sheet.defined_names.items() if _differs(f"{n} {one.value}", change)]:
            del sheet.defined_names[name]
    for name in [n for n, one in book.defined_names.items() if _differs(f"{n} {one.value}", change)]:
        del book.defined_names[name]
    for key in _PROPERTIES:
        text = getattr(book.properties, key)
        if isinstance(text, str) and _differs(text, change):
            setattr(book.properties, key, ERASED)
    for one in [one for one in book.custom_doc_props.props if _differs(f"{one.name} {one.value}", change)]:
        del book.custom_doc_props[one.name]


def rows_of_book(content: bytes) -> Iterator[list[str]]:
    """The cells of every row of every sheet; none where the bytes are no workbook that can be opened."""
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
        for name in book.sheet_names:
            for row in book.get_sheet_by_name(name).to_python():
                yield [_text(cell) for cell in row]
    except (python_calamine.CalamineError, OSError, ValueError, IndexError):
        return


def texts_of_book(content: bytes) -> tuple[str, ...]:
    """Every text in a workbook that is a ZIP of XML: cells, comments, names, properties; none for other forms."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as book:
            members = {name: book.read(name) for name in book.namelist() if name.endswith((".xml", ".rels"))}
    except (zipfile.BadZipFile, OSError, RuntimeError, NotImplementedError):
        return ()
    return tuple(dict.fromkeys(chain.from_iterable(map(_texts_of_part, members.values()))))


def _texts_of_part(content: bytes) -> Iterator[str]:
    try:
        root = ElementTree.fromstring(content)
    except ElementTree.ParseError:
        return
    for element in root.iter():
        if element.tag.rpartition("}")[2] in _TEXTS or not len(element):
            text = "".join(element.itertext()).strip()
            if element.tag.endswith(("Header", "Footer")):
                text = _PLACED.sub(" ", text).strip()
            if re.search(r"[^\W\d_]", text):
                yield text
        yield from (one for one in _attributes(element.attrib) if re.search(r"[^\W\d_] ", one))


def _attributes(found: Mapping[str, str]) -> Iterator[str]:
    yield from found.values()
