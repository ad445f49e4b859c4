"""Puts the text of a sheet made by hand into the form in which files are read: what its mapping says and no more."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import PurePath
from zoneinfo import ZoneInfo

import pandas as pd

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.days import moments
from latewood.pipeline.ingest.files.mapping import SheetForm
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.warehouse.lookups import plain_name

STAMP = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:.*(Z|[+-]\d\d:?\d\d)")
_PARTS = {
    "%Y": r"\d{4}", "%y": r"\d{2}", "%m": r"\d{1,2}", "%d": r"\d{1,2}", "%b": "[A-Za-z]{3}", "%B": "[A-Za-z]{3,9}",
    "%H": r"\d{1,2}", "%M": r"\d{2}", "%S": r"\d{2}", "%I": r"\d{1,2}", "%p": "[AaPp][Mm]",
}  # fmt: skip


def tidied(name: str, table: TextTable, form: SheetForm) -> TextTable:
    """Return the table as its form says; unchanged where it says nothing.

    Raises FileUnreadableError where a column it names is missing, or no day is where it has to be.
    """
    if form == SheetForm():
        return table
    frame = table.frame.copy()
    keep = pd.Series(data=True, index=frame.index)
    for wanted, texts in form.where:
        column = frame[_header(name, table, wanted)].str.strip().str.casefold()
        keep &= column.isin([text.casefold() for text in texts])
    lines = [line for line, kept in zip(table.lines, keep, strict=True) if kept]
    frame = frame[keep].reset_index(drop=True)
    dated = _header(name, table, form.date_column) if form.date_column else ""
    for header in frame.columns:
        frame[header] = _cells(frame[header], form, dates=dated in ("", header))
    for wanted in form.fill_down:
        header = _header(name, table, wanted)
        frame[header] = frame[header].replace("", None).ffill().fillna("")
    if form.athlete_parts:
        parts = [frame[_header(name, table, part)].str.strip() for part in form.athlete_parts]
        frame["athlete"] = pd.concat(parts, axis=1).agg(" ".join, axis=1).str.strip()
    if form.athlete_from:
        frame["athlete"] = table.sheet if form.athlete_from == "sheet" else form.athlete
    if form.make_ids:
        source = "athlete" if form.athlete_parts else _header(name, table, form.make_ids)
        given = dict(form.given_ids)
        frame["athlete_id"] = [given.get(name_mark(text)) or made_id(text) for text in frame[source]]
    if form.date_from:
        frame["measured_on"] = day_beside(name, table, form).isoformat()
    left = len(table.lines) - len(lines)
    notes = (f"{left} rows left out by [where]",) if left else ()
    return replace(table, frame=frame, lines=lines, notes=(*table.notes, *notes))


def made_id(name: str, others: int = 0) -> str:
    """An id made from a name alone, the same whenever and wherever it is made; '' for no name.

    `others` is how many athletes of that name have ids already.
    """
    letters = plain_name(name)
    return f"A-{_digits(f'{letters}/{others}' if others else letters)}" if letters else ""


def name_mark(name: str) -> str:
    """What stands for a name in a mapping that gives it an id: neither the name nor anybody's id."""
    return f"N-{_digits(f'name {plain_name(name)}')}"


def _digits(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:8].upper()


def _header(name: str, table: TextTable, wanted: str) -> str:
    alike = " ".join(wanted.lower().replace("_", " ").split())
    for header in table.headers:
        if " ".join(header.lower().replace("_", " ").split()) == alike:
            return header
    raise FileUnreadableError(
        f"{table.header_of(name)}: has no column {wanted!r}; it has {', '.join(table.headers)}; correct the mapping"
    )


def _cells(column: pd.Series, form: SheetForm, *, dates: bool) -> pd.Series:
    """The texts of one column, each distinct one put right once; `dates` where it may hold days."""
    blank = {word.casefold() for word in form.blank}
    texts = column.str.strip()
    return texts.map({text: _cell(text, blank, form, dates=dates) for text in texts.unique()})


def _cell(text: str, blank: set[str], form: SheetForm, *, dates: bool) -> str:
    if text.casefold() in blank:
        return ""
    if form.thousands and re.fullmatch(rf"\d{{1,3}}({re.escape(form.thousands)}\d{{3}})+([.,]\d+)?", text):
        return text.replace(form.thousands, "")
    if form.stamp_zone and STAMP.fullmatch(text):
        return local_stamp(text, form.stamp_zone)
    if form.date_forms and not form.date_from and dates:
        return day_text(f"{text} {form.year}" if form.year else text, form.date_forms, form.stamp_zone)
    return text


def local_stamp(text: str, zone: str) -> str:
    """A stamp with its offset as the clock of a zone showed it; a text that is no moment stays as it is.

    >>> local_stamp("2032-06-10T00:30:00Z", "America/Chicago"), local_stamp("2032-06-40T00:30Z", "America/Chicago")
    ('2032-06-09 19:30:00', '2032-06-40T00:30Z')
    """
    try:
        moment = datetime.fromisoformat(text).astimezone(ZoneInfo(zone))
    except (ValueError, OverflowError):
        return text
    return moment.replace(tzinfo=None).isoformat(sep=" ")


def day_text(text: str, forms: Sequence[str], zone: str = "") -> str:
    """The day (and time) a text means, in ISO form, where the forms allow exactly one; else the text.

    >>> day_text("3.6.2032", ["%d.%m.%Y", "%d/%m/%Y"]), day_text("3/6/32", ["%d/%m/%y", "%m/%d/%y"])
    ('2032-06-03', '3/6/32')
    """
    read = {moment.isoformat(sep=" ") for moment in moments(text, forms, zone)}
    return read.pop().removesuffix(" 00:00:00") if len(read) == 1 else text


def days_in(text: str, form: str) -> list[date]:
    """Every day that stands in a text in one form, digits not running on before or after it.

    >>> days_in("gates_2032-06-14_b.csv", "%Y-%m-%d")
    [datetime.date(2032, 6, 14)]
    """
    pattern = re.escape(form)
    for part, regex in _PARTS.items():
        pattern = pattern.replace(re.escape(part), regex)
    pieces = re.findall(rf"(?<![0-9A-Za-z])(?:{pattern})(?![0-9A-Za-z])", text.replace("_", " "))
    return [moment.date() for piece in pieces for moment in moments(piece, [form.replace("_", " ")])]


def day_beside(name: str, table: TextTable, form: SheetForm) -> date:
    """The one day of a file whose day is in its name or above its header. Raises FileUnreadableError."""
    if form.date_from == "given":
        return _given_day(name, form.day)
    text = PurePath(name).stem if form.date_from == "file name" else table.above
    days = {day for one in form.date_forms for day in days_in(text, one)}
    if len(days) != 1:
        place = "name of the file" if form.date_from == "file name" else "lines above the header"
        raise FileUnreadableError(
            f"{name}: {len(days) or 'no'} days in the {place} as {' or '.join(form.date_forms)}; "
            "one is needed: look at the file again with `latewood look`"
        )
    return days.pop()


def _given_day(name: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise FileUnreadableError(
            f"{name}: day {text!r} in its mapping is no day such as 2032-06-14"
        ) from None
