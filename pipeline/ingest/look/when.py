"""When a table was measured: by a column, by several, by its headers, by the file's name, or by what is typed in."""

from __future__ import annotations

import re
from calendar import isleap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import PurePath

from latewood.pipeline.ingest.files.days import COUNTED, UNIX
from latewood.pipeline.ingest.files.tidy import STAMP, days_in, local_stamp
from latewood.pipeline.ingest.look import columns as col
from latewood.pipeline.ingest.look.cells import (
    DAY_FORMS,
    ISO,
    Days,
    days_of,
    filled,
    fits_plainly,
    inside,
    readable,
)
from latewood.pipeline.ingest.look.headers import (
    half_days,
    names_day,
    read_header,
    without_day,
    without_half_day,
)
from latewood.pipeline.ingest.look.proposal import ASKED, SURE, ColumnLook, Sheet

NAME_FORMS = (*ISO, *DAY_FORMS, "%Y %m %d", "%d %m %Y", "%m %d %Y")
HEAD_FORMS = (*ISO, *(form for form in DAY_FORMS if "%a" not in form))
BY_LEFT = "each number by the day to its left"
Texts = Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Where the day of a reading comes from.

    `several` are columns of days, each for the numbers to its right; `heads` the days that headers state, with what
    else these say.
    """

    header: str = ""
    form: str = ""
    forms: tuple[str, ...] = ()
    source: str = ""
    constant: str = ""
    zone: str = ""
    year: int = 0
    several: tuple[str, ...] = ()
    heads: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    look: ColumnLook | None = None


def find_day(name: str, sheet: Sheet, texts: Texts, look: col.Look) -> Day:
    """The day: a column, the headers, the name of the file, a line above the header, or a question."""
    dated = col.day_columns(texts)
    unread = col.unread_days(texts, dated)
    if dated and (not unread or any(names_day(header) for header in dated)):
        return _of_columns(dated, texts, look)
    heads = {} if unread else _in_headers(texts, look)
    if heads:
        return Day(heads=heads)
    key = f"{sheet.label}: day" if sheet.label else "day"
    if unread:
        example = filled(texts[unread[0]])[0]
        why = f"No day can be read in {unread[0]!r} (such as {example!r}), so every row would get one day."
        return _typed(key, f"{why} On which day was all of it measured (write 2032-06-14)?", look)
    for source, text in (("file name", PurePath(name).stem), ("above", sheet.table.above)):
        read = {form: days for form in NAME_FORMS if (days := set(days_in(text, form)))}
        every = set().union(*read.values())
        if len(every) == 1:
            return Day(source=source, forms=(next(iter(read)),))
        if 1 < len(every) <= 3:
            chosen = look.ask(
                key, f"Which day is meant in the {source}: {text!r}?", sorted(map(str, every)), ""
            )
            form = next((f for f, days in read.items() if str(min(days)) == chosen and len(days) == 1), "")
            return Day(source=source, forms=(form,)) if form else Day(constant=chosen)
    return _typed(
        key, "On which day was this measured? No column, name or line says (write 2032-06-14).", look
    )


def _typed(key: str, text: str, look: col.Look) -> Day:
    typed = look.ask(key, text, (), "")
    return Day(constant=typed if _is_day(typed) else "")


def _is_day(text: str) -> bool:
    try:
        return bool(date.fromisoformat(text))
    except ValueError:
        return False


def _of_columns(dated: Mapping[str, Days], texts: Texts, look: col.Look) -> Day:
    """The day of one column, or of several that each stand before their numbers."""
    chosen = _which(dated, texts, look)
    if len(chosen) == 1:
        return column_day(chosen[0], dated[chosen[0]], texts, look)
    together = [text for header in chosen for text in texts[header]]
    days = days_of(together, named=True)
    if days is None or set(days.forms) & set(COUNTED) or days.yearless:
        return column_day(chosen[0], dated[chosen[0]], texts, look)
    day = column_day(chosen[0], days, {chosen[0]: together}, look)
    return replace(day, header="", several=chosen)


def _which(dated: Mapping[str, Days], texts: Texts, look: col.Look) -> tuple[str, ...]:
    """The column or columns of the day, asked where some numbers stand behind another column than others."""
    first = next(iter(dated))
    order = [header for header in texts if header in dated]
    headers = list(texts)
    measures = [h for h in headers if h not in dated and _names_measure(h, texts[h], look)]
    lefts = {
        max((o for o in order if headers.index(o) < headers.index(m)), key=headers.index, default="")
        for m in measures
    }
    if len(order) == 1 or lefts <= {first}:
        return (first,)
    apart = len(lefts) > 1 and "" not in lefts
    likely = BY_LEFT if apart else first if not names_day(order[-1]) else ""
    text = f"{len(order)} columns hold days: {', '.join(map(repr, order))}. Which is the day of the numbers?"
    answer = look.ask("days: column", text, ((BY_LEFT,) if apart else ()) + tuple(order), likely)
    return tuple(o for o in order if o in lefts) if answer == BY_LEFT else (answer or first,)


def _names_measure(header: str, cells: Sequence[str], look: col.Look) -> bool:
    return (
        readable(cells, look.decimal) > 0
        and read_header(header, look.known.catalogue, look.names) is not None
    )


def _in_headers(texts: Texts, look: col.Look) -> dict[str, tuple[str, str]]:
    """The day that headers of numbers state, with the rest of their words; the order of day and month may be asked."""
    numbers = [header for header, cells in texts.items() if readable(cells, look.decimal) > 0]
    read = {form: [h for h in numbers if len(set(days_in(h, form))) == 1] for form in HEAD_FORMS}
    most = max(map(len, read.values()), default=0)
    forms = [form for form, headers in read.items() if headers and len(headers) == most]
    if not forms:
        return _half_in_headers(numbers, look)
    form = forms[0]
    other = next((f for f in forms if _days(read[f], f) != _days(read[form], form)), "")
    if other:
        text = f"Is the day in {read[form][0]!r} written day first or month first?"
        chosen = look.ask("headers: order", text, _orders(form, other), "")
        form = next((f for f in (form, other) if _named_order(f) == chosen), form)
    return {h: (str(days_in(h, form)[0]), without_day(h)) for h in read[form]}


def _half_in_headers(numbers: Sequence[str], look: col.Look) -> dict[str, tuple[str, str]]:
    """The days without a year that two headers or more state; the year is asked, and the order where both can be."""
    read = {header: halves for header in numbers if (halves := half_days(header))}
    orders = [at for at in (0, 1) if all(any(halves[at]) for halves in read.values())]
    if len(set(read.values())) < 2 or not orders:
        return {}
    pick = orders[0]
    other = next((h for h, halves in read.items() if len(orders) > 1 and halves[0] != halves[1]), "")
    if other:
        text = f"Is the day in {other!r} written day first or month first?"
        pick = int(look.ask("headers: order", text, ("month first", "day first"), "") == "day first")
    text = f"The days over the columns have no year (such as {next(iter(read))!r}). Which year is it?"
    year = _asked_year("headers: year", text, look) or 2032  # nothing is taken in while it is open
    return {
        header: (str(date(year, *halves[pick])), without_half_day(header))
        for header, halves in read.items()
        if halves[pick] != (2, 29) or isleap(year)
    }


def _days(headers: Sequence[str], form: str) -> list[date]:
    return [days_in(header, form)[0] for header in headers]


def _in_words(form: str) -> str:
    """How a day is written, without signs of a program.

    >>> _in_words("%d.%m.%Y"), _in_words("%b %d, %Y %I:%M %p")
    ('day.month.year', 'month day, year time')
    """
    form = re.sub(r"%[HI]:%M(:%S)?( %p)?", "time", form)
    words = {
        "%d": "day",
        "%m": "month",
        "%b": "month",
        "%B": "month",
        "%Y": "year",
        "%y": "year",
        "%a": "weekday",
    }
    return re.sub(r"%\w", lambda sign: words.get(sign[0], sign[0]), form)


def column_day(header: str, days: Days, texts: Texts, look: col.Look) -> Day:
    """The day of a column; its order is asked where two fit every cell, and its year where there is none."""
    form, how = (
        (days.forms or ("",))[0],
        "days as " + (" or ".join(map(_in_words, days.forms)) or "year-month-day"),
    )
    if days.other:
        form, how = _asked_order(header, days, texts, look)
    shown = ColumnLook(
        header=header,
        target="measured_on",
        certainty=ASKED if days.other or days.yearless else SURE,
        reason=how,
    )
    if days.yearless:
        return Day(header=header, forms=(form,) if form else (), year=_year(header, texts, look), look=shown)
    if len(days.forms) > 1:
        return Day(header=header, forms=days.forms, look=shown)
    if form and (form in COUNTED or not fits_plainly(texts[header], form)):
        zone = look.known.time_zone if form in COUNTED[COUNTED.index(UNIX) :] else ""
        return Day(header=header, forms=(form,), zone=zone, look=shown)
    zone = _zone_of(header, filled(texts[header]), look)
    if zone:
        shown = replace(shown, reason=f"{how}; stamps with an offset, read by the clock of {zone}")
    return Day(header=header, form=form, zone=zone, look=shown)


def _asked_order(header: str, days: Days, texts: Texts, look: col.Look) -> tuple[str, str]:
    """The form by the answer, '' while it is open, and the words for it."""
    form, known = days.forms[0], look.known
    year = (
        f" {known.first_day.year}" if days.yearless and known.first_day else " 2032" if days.yearless else ""
    )
    cells = [f"{text}{year}" for text in filled(texts[header])]
    share = [inside(cells, f, known.first_day, known.last_day) for f in (form, days.other)]
    proposed = "" if share[0] == share[1] else (form, days.other)[share[1] > share[0]]
    example = filled(texts[header])[0]
    form = look.ask(
        f"{header}: order", f"Is {example!r} in {header!r} day first or month first?", _orders(form, days.other),
        _named_order(proposed) if proposed else "",
    )  # fmt: skip
    form = {_named_order(f): f for f in (days.forms[0], days.other)}.get(form, "")
    return form, f"your answer: {_named_order(form)}" if form else "day and month could be either"


def _year(header: str, texts: Texts, look: col.Look) -> int:
    """The year of days without one, by the answer; 0 while it is open."""
    example = filled(texts[header])[0]
    text = f"The days in {header!r} have no year (such as {example!r}). Which year is it?"
    return _asked_year(f"{header}: year", text, look)


def _asked_year(key: str, text: str, look: col.Look) -> int:
    first, last = look.known.first_day, look.known.last_day
    years = [str(year) for year in range(first.year, last.year + 1)] if first and last else []
    if len(years) > 20 or not years:
        answer = look.ask(key, f"{text} Write it with four digits.", (), "")
    else:
        answer = look.ask(key, text, years, years[0] if len(years) == 1 else "")
    return int(answer) if re.fullmatch(r"\d{4}", answer) else 0


def _zone_of(header: str, stamps: Sequence[str], look: col.Look) -> str:
    """By which zone's clock stamps with an offset are read: that of the camps; asked where it moves a day."""
    zone = look.known.time_zone
    marked = [text for text in stamps if STAMP.fullmatch(text)]
    if not zone or not marked:
        return ""
    moved = next((text for text in marked if local_stamp(text, zone)[:10] != text[:10]), "")
    if not moved:
        return zone
    day, text = local_stamp(moved, zone)[:16], f"{moved!r} in {header!r} carries an offset."
    choices = (f"by the clock of {zone}", "the day as written")
    answer = look.ask(
        f"{header}: zone", f"{text} By the clock of {zone} it is {day}. Which counts?", choices, choices[0]
    )
    return zone if answer == choices[0] else ""


def _named_order(form: str) -> str:
    return "day first" if form.index("%d") < form.index("%m") else "month first"


def _orders(first: str, second: str) -> tuple[str, ...]:
    return tuple(sorted({_named_order(first), _named_order(second)}))
