"""A file while it is being made, and the writers that turn it into device-like bytes."""

from __future__ import annotations

import csv
import io
import zipfile
from dataclasses import dataclass, field
from datetime import date, datetime

from openpyxl import Workbook

from saltmarsh.people import Person


@dataclass(slots=True, eq=False)
class Row:
    """One line: cells by header, whose it is, and the true text of cells that an error replaced."""

    cells: dict[str, str]
    person: Person | None = None
    on: date | None = None
    truth: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True, eq=False)
class Sheet:
    """One file. `values` maps each value column to (short measure, factor to the canonical unit)."""

    name: str
    headers: tuple[str, ...]
    kind: str = "readings"
    camp: str = ""
    rows: list[Row] = field(default_factory=list)
    values: dict[str, tuple[str, float]] = field(default_factory=dict)
    encoding: str = "utf-8"
    delimiter: str = ","
    decimal: str = "."
    numeric: tuple[str, ...] = ()
    banner: tuple[str, ...] = ()
    long: bool = True

    def add(self, person: Person | None, on: date | None, **cells: str) -> Row:
        """Append a row; headers that are not given stay blank. Spaces in headers are written '_'."""
        by_header = {h: cells.get(h.replace(" ", "_"), "") for h in self.headers}
        self.rows.append(Row(by_header, person, on))
        return self.rows[-1]

    @property
    def first_line(self) -> int:
        """The line on which the first row stands."""
        return len(self.banner) + 2

    def line(self, row: Row) -> int:
        """The line of a row in the written file."""
        return next(i for i, r in enumerate(self.rows) if r is row) + self.first_line

    def measure(self, row: Row, column: str) -> str:
        """The short measure that a value cell holds."""
        return row.cells[self.measure_column] if self.values[column][0] == "*" else self.values[column][0]

    @property
    def measure_column(self) -> str:
        """The column that names the measure in a long file."""
        return next(h for h in ("measure", "Metric", "Lift") if h in self.headers)

    def content(self) -> bytes:
        """The bytes of the file."""
        return self._workbook() if self.name.endswith(".xlsx") else self._delimited()

    def _delimited(self) -> bytes:
        out = io.StringIO(newline="")
        writer = csv.writer(
            out, delimiter=self.delimiter, lineterminator="\r\n" if self.encoding != "utf-8" else "\n"
        )
        for text in self.banner:
            writer.writerow([text])
        writer.writerow(self.headers)
        for row in self.rows:
            writer.writerow([self._cell(h, row.cells[h]) for h in self.headers])
        codec = "utf-16" if self.encoding == "utf-16" else self.encoding
        if codec == "utf-16":  # always little-endian, whatever the machine
            return b"\xff\xfe" + out.getvalue().encode("utf-16-le")
        return out.getvalue().encode(codec)

    def _cell(self, header: str, text: str) -> str:
        return text.replace(".", self.decimal) if header in self.numeric and self.decimal != "." else text

    def _workbook(self) -> bytes:
        book = Workbook()
        book.properties.created = book.properties.modified = datetime(2033, 8, 1)
        book.properties.creator = "Saltmarsh Lantern Academy (invented)"
        notes = book.active
        notes.title = "Notes"
        notes["A1"] = "Strength sheet. Invented data."
        page = book.create_sheet("Results")
        for text in self.banner:
            page.append([text])
        page.append(list(self.headers))
        for row in self.rows:
            page.append([_excel_cell(h, row.cells[h], self.numeric) for h in self.headers])
        raw = io.BytesIO()
        book.save(raw)
        return _fixed_zip(raw.getvalue())


def _excel_cell(header: str, text: str, numeric: tuple[str, ...]) -> str | float | None:
    if header in numeric:
        try:
            return float(text)
        except ValueError:
            return text or None
    return text or None


def _fixed_zip(content: bytes) -> bytes:
    """The same archive with fixed times and without compression, which may differ between machines."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as new:
        for name in sorted(old.namelist(), key=lambda n: (n != "[Content_Types].xml", n)):
            data = old.read(name)
            if name == "docProps/core.xml":
                data = _fixed_modified(data)
            info = zipfile.ZipInfo(name, date_time=(2033, 8, 1, 0, 0, 0))
            info.create_system = 3
            new.writestr(info, data)
    return out.getvalue()


def _fixed_modified(data: bytes) -> bytes:
    """The core properties with the time of saving replaced: openpyxl stamps it while saving."""
    start = data.index(b">", data.index(b"<dcterms:modified")) + 1
    end = data.index(b"</dcterms:modified>")
    return data[:start] + b"2033-08-01T00:00:00Z" + data[end:]
