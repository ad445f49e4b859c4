"""What a workbook marks and its cells do not show: hidden sheets and rows, and formulas without a stored result."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from xml.etree import ElementTree

from latewood.pipeline.errors import FileUnreadableError

WIDEST = 100  # columns; a program hides all that lie beyond its table
LARGEST_PART = 40_000_000  # bytes of one sheet that are looked through
HIDDEN_COLUMNS = "hidden columns are read too; delete them in the workbook to leave them out"
_FORMULA = b"<f"
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_ID = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


@dataclass(slots=True)
class Marks:
    """Of one sheet: whether it is hidden, hidden rows and columns, and cells whose formula has no stored result."""

    hidden: bool = False
    rows: list[int] = field(default_factory=list)
    columns: int = 0  # how many are hidden
    formulas: list[str] = field(default_factory=list)


def book_marks(content: bytes) -> dict[str, Marks]:
    """The marks of each sheet of an .xlsx by its name; nothing for other forms of workbooks."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            files = _relations(archive)
            sheets = ElementTree.fromstring(archive.read("xl/workbook.xml")).iter(f"{_MAIN}sheet")
            return {
                sheet.get("name", ""): _marks(
                    archive, files.get(sheet.get(_ID, ""), ""), sheet.get("state", "")
                )
                for sheet in sheets
            }
    except (zipfile.BadZipFile, KeyError, ValueError, OSError, ElementTree.ParseError, NotImplementedError):
        return {}  # what cannot be opened is said by the reader


def check_formulas(name: str, content: bytes, sheet: str) -> None:
    """Raise FileUnreadableError where formulas in a sheet have no stored result: they would read as blank."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = [one for one in archive.infolist() if one.filename.startswith("xl/worksheets/")]
            if not any(one.file_size <= LARGEST_PART and _FORMULA in archive.read(one) for one in parts):
                return
    except (zipfile.BadZipFile, OSError, RuntimeError, NotImplementedError):
        return  # what cannot be opened is said by the reader
    own = book_marks(content).get(sheet)
    check_marks(name, sheet, {} if own is None else {sheet: replace(own, hidden=False)})


def _relations(archive: zipfile.ZipFile) -> dict[str, str]:
    """The file of each sheet within the archive, by the id of its relation."""
    relations = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {one.get("Id", ""): one.get("Target", "") for one in relations}
    return {key: target.removeprefix("/").removeprefix("xl/") for key, target in targets.items()}


def _marks(archive: zipfile.ZipFile, target: str, state: str) -> Marks:
    marks = Marks(hidden=state in ("hidden", "veryHidden"))
    path = f"xl/{target}"
    if not target or path not in archive.namelist() or archive.getinfo(path).file_size > LARGEST_PART:
        return marks
    with archive.open(path) as part:
        for _, row in ElementTree.iterparse(part):
            if row.tag == f"{_MAIN}col" and row.get("hidden") in ("1", "true"):
                marks.columns += min(int(row.get("max", "0")), WIDEST) - int(row.get("min", "0")) + 1
            if row.tag != f"{_MAIN}row":
                continue
            if row.get("hidden") in ("1", "true") and any(_value(cell) for cell in row):
                marks.rows.append(int(row.get("r", "0")))
            marks.formulas += [
                cell.get("r", "") for cell in row if cell.find(f"{_MAIN}f") is not None and not _value(cell)
            ]
            row.clear()
    return marks


def _value(cell: ElementTree.Element) -> bool:
    """Whether a cell holds something that is shown; a formula whose result is an empty text does."""
    value = cell.find(f"{_MAIN}v")
    text = (value is not None and value.text) or cell.find(f"{_MAIN}is") is not None
    return bool(text) or cell.get("t") == "str"


def check_marks(name: str, sheet: str, marks: Mapping[str, Marks]) -> None:
    """Raise FileUnreadableError where a sheet is hidden, or formulas in it have no result."""
    own = marks.get(sheet)
    if own is None:
        return
    if own.hidden:
        raise FileUnreadableError(
            f"{name}, sheet {sheet!r}: is hidden; show it in the workbook where it is to be read"
        )
    if own.formulas:
        raise FileUnreadableError(
            f"{name}, sheet {sheet!r}, cell {own.formulas[0]}: {len(own.formulas)} formulas have no stored result; "
            "open the workbook in a spreadsheet program, save it, and look again"
        )


def hidden_note(marks: Marks | None) -> tuple[str, ...]:
    """What is said of hidden rows and columns, which are read as the others are."""
    if marks is not None and marks.columns:
        return (*hidden_note(replace(marks, columns=0)), HIDDEN_COLUMNS)
    if marks is None or not marks.rows:
        return ()
    shown = ", ".join(map(str, marks.rows[:5])) + (" ..." if len(marks.rows) > 5 else "")
    return (
        f"{len(marks.rows)} hidden rows are read too (line {shown}); delete them in the workbook to leave them out",
    )
