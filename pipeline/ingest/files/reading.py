"""Reads a file into rows of text without guessing at their meaning, or says exactly why it cannot."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from itertools import islice

import pandas as pd
import python_calamine

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.book import check_formulas
from latewood.pipeline.ingest.files.even import is_even
from latewood.pipeline.ingest.files.limits import check_lines, check_unpacked
from latewood.pipeline.ingest.files.loose import Row, loose_rows, part_of, turned_rows
from latewood.pipeline.ingest.files.motion import Motion
from latewood.pipeline.ingest.files.motion_c3d import is_c3d, read_c3d
from latewood.pipeline.ingest.files.motion_options import MotionOptions
from latewood.pipeline.ingest.files.motion_storage import is_storage, read_storage
from latewood.pipeline.ingest.files.motion_table import columns_of_motion

EXCEL_SUFFIXES = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
DELIMITERS = ",;\t|"
LARGEST_FIELD = 100_000
LARGEST_FILE = 2_000_000_000
LARGEST_SHEET = 200_000_000
LARGEST_UNPACKED = (
    500_000_000  # bytes of a workbook when unpacked; a real one of this size is no table to import
)
LARGEST_LINE = 4_000_000  # bytes
_FAST_FROM = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingOptions:
    """How a file is to be read; empty means: find out."""

    encoding: str = ""
    delimiter: str = ""
    sheet: str = ""
    skip_lines: int = 0
    loose: bool = (
        False  # a sheet made by hand: spacer columns, headers over two lines, footers (see loose.py)
    )
    header_lines: int = 1
    footers: tuple[str, ...] = ()
    part: int = 0  # which of the tables that stand one below the other, from 1; 0 for a file of one
    turned: bool = False  # athletes or days stand across: rows and columns are exchanged
    motion: MotionOptions = field(default_factory=MotionOptions)  # what is made of motion capture


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A file as text: one column per header, one row per record, and the line each record stands on."""

    frame: pd.DataFrame
    lines: Sequence[int]
    notes: tuple[str, ...] = field(default=())
    header_line: int = 1
    sheet: str = ""
    above: str = ""  # what stands above the header
    units: Mapping[str, str] = field(default_factory=dict)  # of columns whose unit the file itself states
    places: Sequence[int] = ()  # which columns of a sheet made by hand were kept, from 1

    def header_of(self, name: str) -> str:
        """Where the header stands, for errors: file, sheet of a workbook, and line."""
        sheet = f", sheet {self.sheet!r}" if self.sheet else ""
        return f"{name}{sheet}, line {self.header_line}"

    @property
    def headers(self) -> list[str]:
        """The headers as written in the file."""
        return [str(c) for c in self.frame.columns]


def read_table(name: str, content: bytes, options: ReadingOptions, typed: Typed | None = None) -> TextTable:
    """Return the records of a CSV or Excel file as text.

    With `typed` the columns it names come as numbers, an empty cell as NaN, where the file is a large delimited one
    and they hold nothing else; its other columns then come as categories.

    Raises FileUnreadableError naming file, line, field and the fix.
    """
    if content.startswith((b"\x89PNG", b"%PDF", b"\xff\xd8", b"GIF8")):
        raise FileUnreadableError(
            f"{name}: is a picture or a PDF, not a table; export CSV or Excel from the device"
        )
    if not content:
        raise FileUnreadableError(f"{name}: the file is empty; export it again from the device")
    if len(content) > LARGEST_FILE:
        raise FileUnreadableError(f"{name}: the file is larger than 2 GB; split it by month")
    if is_workbook(name, content):
        return _read_excel(name, content, options)
    motion = read_motion(name, content)
    if motion is not None:
        columns = columns_of_motion(name, motion, options.motion)
        lines = range(1, len(columns.frame) + 1)
        return TextTable(frame=columns.frame, lines=lines, notes=columns.notes, units=columns.units)
    return _read_delimited(name, content, options, typed)


NO_TABLES = {
    (".zip", ".7z", ".rar", ".gz"): "is packed; unpack it and take the files in it",
    (".json", ".jsonl"): "is JSON, not a table; export CSV or Excel from the device",
}


def is_workbook(name: str, content: bytes) -> bool:
    """Whether a file is opened as a workbook: by its first bytes; a text under a workbook's name is a text.

    Raises FileUnreadableError where a web page bears a workbook's name, and of files that hold no table.
    """
    for endings, what in NO_TABLES.items():
        if name.lower().endswith(endings):
            raise FileUnreadableError(f"{name}: {what}")
    if content.startswith(b"PK\x03\x04") and not name.lower().endswith(".c3d"):
        return True
    if not name.lower().endswith(EXCEL_SUFFIXES):
        return False
    start = content[:2000].lstrip(codecs.BOM_UTF8).lstrip().lower()
    if start.startswith((b"<html", b"<!doctype", b"<table", b"<?xml", b"<meta")):
        raise FileUnreadableError(
            f"{name}: is a web page under the name of a workbook; open it in a spreadsheet program and save it as .xlsx"
        )
    try:
        text, _ = decode(name, content[: len(content) // 2 * 2], "")
        find_delimiter(name, text)
    except FileUnreadableError:
        return True
    return content.startswith(b"PK") or any(ord(c) < 9 for c in text[:2000])


def read_motion(name: str, content: bytes) -> Motion | None:
    """What a file of motion capture holds; None for every other file. Raises FileUnreadableError."""
    if is_c3d(name, content):
        return read_c3d(name, content)
    return read_storage(name, content) if is_storage(name, content) else None


def decode(name: str, content: bytes, encoding: str) -> tuple[str, str]:
    """Return the text of a file and the encoding used, strictly: no character is replaced or dropped."""
    for mark, codec in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if content.startswith(mark):
            return _decode_as(name, content, codec), codec
    if encoding:
        return _decode_as(name, content, encoding), encoding
    if content[:4000].count(b"\0") > 0.3 * len(content[:4000]):
        codec = "utf-16-le" if content[1:2] == b"\0" else "utf-16-be"
        return _decode_as(name, content, codec), codec
    try:
        return _without_nul(name, content.decode("utf-8")), "utf-8"
    except UnicodeDecodeError:
        return _decode_as(name, content, "windows-1252"), "windows-1252"


def _decode_as(name: str, content: bytes, codec: str) -> str:
    try:
        text = content.decode(codec)
    except LookupError as error:
        raise FileUnreadableError(
            f"{name}: encoding {codec!r} is not known; write utf-8, utf-16 or windows-1252 in the mapping"
        ) from error
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise FileUnreadableError(
            f"{name}, line {line}: byte {content[error.start]:#04x} is not {codec}; "
            "state the encoding in the mapping (encoding = ...) or save the file as UTF-8"
        ) from error
    return _without_nul(name, text)


def _without_nul(name: str, text: str) -> str:
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise FileUnreadableError(
            f"{name}, line {line}: holds NUL characters; export it again as CSV or Excel"
        )
    return text


def find_delimiter(name: str, text: str, skipped: int = 0) -> str:
    """Return the character that splits most of the first lines into as many fields as the header (over 1)."""
    csv.field_size_limit(LARGEST_FIELD)  # one for the whole process: what was read before must not decide
    sample = "\n".join(islice((line for line in _lines_of(text) if line.strip()), 20))
    best, agreement = "", (0.0, 1)
    for candidate in DELIMITERS:
        try:
            widths = [len(r) for r in csv.reader(io.StringIO(sample), delimiter=candidate) if r]
        except csv.Error:
            continue
        if widths and widths[0] > 1:
            score = (widths.count(widths[0]) / len(widths), widths[0])
            best, agreement = max((best, agreement), (candidate, score), key=lambda pair: pair[1])
    if not best:
        raise FileUnreadableError(
            f"{name}, line {_first_filled(text) + skipped}: no comma, semicolon, tab or bar "
            "splits the header into columns; "
            "state the delimiter in the mapping (delimiter = ...)"
        )
    return best


def _first_filled(text: str) -> int:
    return next((number for number, line in enumerate(_lines_of(text), start=1) if line.strip()), 1)


def _lines_of(text: str) -> Iterator[str]:
    at = 0
    while at < len(text):
        end = text.find("\n", at) + 1 or len(text)
        yield text[at:end]
        at = end


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """Headers of columns that hold numbers, and the decimal mark that these are written with."""

    numbers: Sequence[str] = ()
    decimal: str = "."


def _read_delimited(name: str, content: bytes, options: ReadingOptions, typed: Typed | None) -> TextTable:
    check_lines(name, content)
    text, codec = decode(name, content, options.encoding)
    above = ""
    if options.skip_lines:
        *first, text = text.split("\n", options.skip_lines)
        above = "\n".join(first)
    delimiter = options.delimiter or find_delimiter(name, text, options.skip_lines)
    notes = (f"read as {codec}, columns split by {DELIMITER_WORDS.get(delimiter, repr(delimiter))}",)
    fast = len(text) > _FAST_FROM and not options.loose
    table = _read_fast(name, text, delimiter, options.skip_lines, typed) if fast else None
    places: Sequence[int] = ()
    if table is None:
        rows, lines = split_rows(name, text, delimiter, options.skip_lines)
        rows, lines, above = _part(name, rows, lines, above, options)
        frame, kept, places = _framed(name, rows, lines, options)
        table = (frame, kept, lines[0] if lines else 1)
    dropped = _dropped_note(table[1], len(rows) - options.header_lines) if options.loose else ()
    return TextTable(
        frame=table[0],
        lines=table[1],
        notes=(*notes, *dropped),
        header_line=table[2],
        above=above,
        places=places,
    )


def _framed(
    name: str, rows: list[list[str]], lines: list[int], options: ReadingOptions
) -> tuple[pd.DataFrame, Sequence[int], Sequence[int]]:
    if not options.loose:
        return *_as_frame(name, rows, lines), ()
    header_lines = options.header_lines if options.part <= 1 else 1
    headers, kept, places = loose_rows(name, rows, lines, header_lines, options.footers)
    frame = pd.DataFrame([row for _, row in kept], columns=pd.Index(headers), dtype="str")
    return frame, [line for line, _ in kept], places


def _part(
    name: str, rows: list[Row], lines: list[int], above: str, options: ReadingOptions
) -> tuple[list[Row], list[int], str]:
    """The rows of the table that is to be read, their lines, and what stands above its header."""
    if options.turned:
        return *turned_rows(rows), above
    if not options.part:
        return rows, lines, above
    rows, lines, title = part_of(rows, lines, options.header_lines, options.part)
    if not rows:
        raise FileUnreadableError(
            f"{name}: has no table {options.part} below the first; correct `part` in the mapping"
        )
    return rows, lines, "\n".join("\t".join(filter(None, row)) for row in title) or above


def _dropped_note(lines: Sequence[int], rows: int) -> tuple[str, ...]:
    dropped = rows - len(lines)
    return (f"{dropped} repeated headers, footers or averages left out",) if dropped else ()


DELIMITER_WORDS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}


def split_rows(name: str, text: str, delimiter: str, skipped: int) -> tuple[list[list[str]], list[int]]:
    """The filled lines of a delimited text, split into cells, and the line of the file that each begins on.

    Raises FileUnreadableError where a quote is not closed.
    """
    csv.field_size_limit(LARGEST_FIELD)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[list[str]] = []
    lines: list[int] = []
    start = 1
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                rows.append(row)
                lines.append(start + skipped)
            start = reader.line_num + 1
    except csv.Error as error:
        raise FileUnreadableError(
            f"{name}, line {start + skipped}: {error}; look for an opening quote without its end, or an overlong field"
        ) from error
    return rows, lines


def _as_frame(name: str, rows: list[list[str]], lines: list[int]) -> tuple[pd.DataFrame, Sequence[int]]:
    if not rows:
        raise FileUnreadableError(f"{name}: holds no rows; export it again from the device")
    headers = check_headers(name, rows[0], lines[0])
    width = len(headers)
    for row, line in zip(rows[1:], lines[1:], strict=True):
        if len(row) != width:
            if len(row) > width and not any(cell.strip() for cell in row[width:]):
                del row[width:]
                continue
            raise FileUnreadableError(
                f"{name}, line {line}: has {len(row)} fields where the header has {width}; "
                "look for a missing or extra separator in this line, an unquoted comma in a name, or lines above "
                "the header (skip_lines = ... in a mapping)"
            )
    if len(rows) == 1:
        raise FileUnreadableError(f"{name}: has a header and no rows; export it again from the device")
    frame = pd.DataFrame(rows[1:], columns=pd.Index(headers), dtype="str")
    return frame, lines[1:]


def check_headers(name: str, cells: Sequence[str], line: int) -> list[str]:
    """Return the headers stripped of blanks, or raise for an empty or doubled one."""
    headers = [c.strip() for c in cells]
    while headers and not headers[-1]:
        headers.pop()
    for position, header in enumerate(headers, start=1):
        if not header:
            raise FileUnreadableError(
                f"{name}, line {line}, field {position}: the header is empty; name this column"
            )
        twin = next((h for h in headers[: position - 1] if _alike(h) == _alike(header)), None)
        if twin is not None:
            also = "" if twin == header else f", once as {twin!r}"
            raise FileUnreadableError(
                f"{name}, line {line}, field {position}: the header {header!r} stands twice{also}; "
                "rename one of the two"
            )
    if not headers:
        raise FileUnreadableError(f"{name}, line {line}: the header is empty; name the columns")
    return headers


def _alike(header: str) -> str:
    """A header as columns are looked for: of two that are alike here, one would never be read."""
    return " ".join(header.lower().replace("_", " ").split())


def _read_fast(
    name: str, text: str, delimiter: str, skipped: int, typed: Typed | None = None
) -> tuple[pd.DataFrame, Sequence[int], int] | None:
    """Read a large well-formed file at once; None sends it to the strict reader, which names the bad line."""
    first, _, rest = text.partition("\n")
    if '"' in first or text.count("\r") != text.count("\r\n"):
        return None
    headers = check_headers(name, first.rstrip("\r").split(delimiter), 1 + skipped)
    records = rest.count("\n") + (not rest.endswith("\n"))
    if not is_even(rest, delimiter, len(headers)):
        return None
    frame = _typed_frame(rest, delimiter, headers, typed) if typed else None
    if frame is None:
        frame = pd.read_csv(
            io.StringIO(rest), header=None, names=headers, index_col=False, dtype="str", sep=delimiter, engine="c",
            na_filter=False, skip_blank_lines=False, low_memory=False,
        )  # fmt: skip
    if len(frame) != records:
        return None
    first_blank = frame[_blanks(frame[headers[0]])]
    if len(first_blank) and first_blank.apply(_blanks).all(axis=1).any():
        return None
    return frame, range(2 + skipped, 2 + skipped + records), 1 + skipped


def _typed_frame(rest: str, delimiter: str, headers: list[str], typed: Typed) -> pd.DataFrame | None:
    """The records with columns of numbers as numbers, others as categories; None where a number is a word."""
    wanted = {_alike(header) for header in typed.numbers}
    numbers = [header for header in headers if _alike(header) in wanted]
    if numbers and typed.decimal == delimiter:
        return None
    # a first line of words, since pandas would make numbers of a column of categories that all look like numbers
    words = delimiter.join("" if header in numbers else "~" for header in headers)
    try:
        frame = pd.read_csv(
            io.BytesIO(f"{words}\n{rest}".encode()), header=None, names=headers, index_col=False, sep=delimiter,
            dtype={header: "float64" if header in numbers else "category" for header in headers}, engine="c",
            decimal=typed.decimal, keep_default_na=False, na_values={header: [""] for header in numbers},
            skip_blank_lines=False,
        )  # fmt: skip
    except ValueError:
        return None
    return frame.iloc[1:].reset_index(drop=True)


def _blanks(column: pd.Series) -> pd.Series:
    if column.dtype == "float64":
        return column.isna()
    if isinstance(column.dtype, pd.CategoricalDtype):
        return column.isin([text for text in column.cat.categories if not text.strip()])
    return column.str.strip() == ""


def _read_excel(name: str, content: bytes, options: ReadingOptions) -> TextTable:
    book = open_book(name, content)
    names = book.sheet_names
    sheet = options.sheet or _only_sheet(name, book)
    if sheet not in names:
        raise FileUnreadableError(
            f"{name}: has no sheet {sheet!r}, only {', '.join(map(repr, names))}; correct `sheet` in the mapping"
        )
    check_formulas(name, content, sheet)
    texts = sheet_texts(name, book, sheet)
    kept = [(i, row) for i, row in enumerate(texts, start=1) if i > options.skip_lines and any(row)]
    if not kept:
        raise FileUnreadableError(f"{name}: sheet {sheet!r} holds no rows; name another sheet in the mapping")
    above = "\n".join("\t".join(cell for cell in row if cell) for row in texts[: options.skip_lines])
    rows, row_lines, above = _part(name, [row for _, row in kept], [i for i, _ in kept], above, options)
    frame, lines, places = _framed(name, rows, row_lines, options)
    dropped = _dropped_note(lines, len(rows) - options.header_lines) if options.loose else ()
    return TextTable(
        frame=frame,
        lines=lines,
        notes=(f"read sheet {sheet!r}", *dropped),
        header_line=row_lines[0],
        sheet=sheet,
        above=above,
        places=places,
    )


def open_book(name: str, content: bytes) -> python_calamine.CalamineWorkbook:
    """A workbook, opened. Raises FileUnreadableError where it is none, or would fill the memory."""
    check_unpacked(name, content)
    try:
        return python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
    except (python_calamine.CalamineError, OSError, ValueError, IndexError) as error:
        raise _no_workbook(name, error) from error


def _no_workbook(name: str, error: Exception) -> FileUnreadableError:
    return FileUnreadableError(
        f"{name}: cannot be opened as a workbook ({error}); save it again as .xlsx or CSV"
    )


def sheet_texts(name: str, book: python_calamine.CalamineWorkbook, sheet: str) -> list[list[str]]:
    """The cells of one sheet as text, rows from the first line on. Raises FileUnreadableError."""
    try:
        table = book.get_sheet_by_name(sheet)
        if table.total_height * table.total_width > LARGEST_SHEET:
            raise FileUnreadableError(f"{name}: sheet {sheet!r} is too large; save it as CSV")
        rows = table.to_python(skip_empty_area=False)
    except (python_calamine.CalamineError, OSError, ValueError, IndexError) as error:
        raise _no_workbook(name, error) from error
    return [[_cell_text(cell) for cell in row] for row in rows]


def _only_sheet(name: str, book: python_calamine.CalamineWorkbook) -> str:
    filled = [s for s in book.sheet_names if book.get_sheet_by_name(s).total_height]
    if len(filled) > 1:
        raise FileUnreadableError(
            f"{name}: has {len(filled)} sheets with rows ({', '.join(map(repr, filled))}); "
            "name the one to read in a mapping (sheet = ...)"
        )
    return str((filled or book.sheet_names)[0])


def _cell_text(cell: object) -> str:
    if isinstance(cell, bool) or cell is None:
        return str(cell) if cell else ""
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() else repr(cell)
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(sep=" ")
    if isinstance(cell, date):
        return cell.isoformat()
    return str(cell).strip()
