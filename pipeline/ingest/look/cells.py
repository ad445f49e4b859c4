"""What the cells of a column show: numbers and their mark, units that fit, forms of days, words for no value."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from statistics import median

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.catalogue.units import convert, find_unit, parse_length
from latewood.pipeline.ingest.files.days import COUNTED, moments
from latewood.pipeline.ingest.files.tidy import day_text
from latewood.pipeline.ingest.files.written import ANY, PATTERNS, any_way
from latewood.pipeline.ingest.look.words import BLANK_WORDS

ISO = ("%Y-%m-%d",)
DAY_FORMS = (
    "%d.%m.%Y", "%d.%m.%y", "%m/%d/%Y", "%d/%m/%Y", "%m/%d/%y", "%d/%m/%y", "%m-%d-%Y", "%d-%m-%Y", "%m-%d-%y",
    "%d-%m-%y", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d", "%d %b %Y", "%d %B %Y", "%b %d, %Y", "%B %d, %Y", "%b %d %Y",
    "%B %d %Y", "%d-%b-%Y", "%d-%b-%y", "%d %b %y", "%a %d %b %Y", "%a %b %d %Y", "%d. %B %Y",
)  # fmt: skip
CLOCKS = ("", " %H:%M", " %H:%M:%S", " %I:%M %p", " %I:%M:%S %p")
FORMS = tuple(day + clock for day in DAY_FORMS for clock in CLOCKS)
YEARLESS = tuple(
    f"{form} %Y"
    for form in ("%m/%d", "%d/%m", "%m-%d", "%d-%m", "%d.%m.", "%d.%m", "%d %b", "%b %d", "%d-%b")
)
NUMBER = re.compile(
    r"[-+]?(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d{1,3}(?:\.\d{3})+(?:,\d+)?|\d+(?:[.,]\d+)?|[.,]\d+)"
)
GROUPED = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?")
SHORT = re.compile(r"[-+]?\d{1,5}(?:[.,]\d+)?")  # a number that no form of a day with its year reads
MOSTLY = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """How the days of a column are written. `forms` holds more than one where the file mixes them.

    `other` is the second order of day and month, where both fit all texts.
    """

    forms: tuple[str, ...]
    other: str = ""
    iso: bool = False
    yearless: bool = False  # the year has to be asked, and stands behind each text


def filled(texts: Sequence[str]) -> list[str]:
    """The texts that are no blank and no word for one."""
    blank = {t for t in set(texts) if not t or t.casefold() in BLANK_WORDS}
    return [t for t in texts if t not in blank]


def _share(texts: Sequence[str], fits: Callable[[str], object]) -> float:
    """The share of texts that fit, each asked once however often it stands there; 0 of none."""
    counts = Counter(texts)
    return sum(n for t, n in counts.items() if fits(t)) / max(1, len(texts))


def blanks_in(texts: Sequence[str]) -> list[str]:
    """The words for no value that a column holds, each once."""
    return list(dict.fromkeys(t for t in texts if t and t.casefold() in BLANK_WORDS))


def is_numeric(texts: Sequence[str]) -> bool:
    """Whether most of a column are numbers."""
    return _share(filled(texts), NUMBER.fullmatch) >= MOSTLY


def comma_is_point(columns: Sequence[Sequence[str]]) -> bool:
    """Whether numbers of a file carry a comma for the decimal point: none with a point, some that are no thousands."""
    numbers = [t for texts in columns for t in set(filled(texts)) if NUMBER.fullmatch(t)]
    return any("," in t and not GROUPED.fullmatch(t) for t in numbers) and not any("." in t for t in numbers)


def number_of(text: str, decimal: str) -> float | None:
    """The number a text is, thousands marks taken away; None where it is none."""
    if decimal == ",":
        text = text.replace(".", "").replace(",", ".")
    elif GROUPED.fullmatch(text):
        text = text.replace(",", "")
    try:
        return float(text)
    except ValueError:
        return None


def units_that_fit(texts: Sequence[str], measure: Measure, decimal: str) -> list[str]:
    """The accepted units in which a column can be this measure: within its limits, the middle near its bands."""
    read = {t: number_of(t, decimal) for t in set(texts)}
    numbers = [n for t in filled(texts) if (n := read[t]) is not None]
    if not numbers or measure.kind == "rating":
        return list(measure.accepted_units) if measure.kind == "rating" else []
    low = min((b.low for b in measure.bands), default=measure.hard_low)
    high = max((b.high for b in measure.bands), default=measure.hard_high)
    reach = 0.25 * (high - low)
    fitting = []
    for unit in measure.accepted_units:
        converted = {n: convert(n, unit, measure.unit) for n in set(numbers)}
        values = [converted[n] for n in numbers]
        inside = sum(measure.hard_low <= v <= measure.hard_high for v in values)
        if inside >= MOSTLY * len(values) and low - reach <= median(values) <= high + reach:
            fitting.append(unit)
    return fitting


def written_as(texts: Sequence[str], decimal: str = ".") -> str:
    """How cells that are more than a number are written ('load x reps' …); 'number' where they are none of these.

    Cells that are written in several ways, each of them known, are 'any'.
    """
    full = filled(texts)
    kept = {t for t in set(full) if not NUMBER.fullmatch(t) and parse_length(t) is None}
    many = sum(t in kept for t in full) >= MOSTLY * max(1, len(full))
    for written in ("load x reps", "sets x reps @ load"):
        if many and all(PATTERNS[written].fullmatch(t) for t in kept):
            return written
    units = [PATTERNS["number unit"].fullmatch(t) for t in kept]
    if many and all(match and find_unit(match["unit"]) for match in units):
        return "number unit"
    return ANY if any(_is_special(t, decimal) for t in set(full)) else "number"


def _is_special(text: str, decimal: str) -> bool:
    """Whether a cell is known, but no plain number and no length."""
    if parse_length(text) is not None:
        return False
    plainly = NUMBER.fullmatch(text) is not None and (
        decimal == "," or "," not in text or GROUPED.fullmatch(text)
    )
    return not plainly and any_way(text, decimal) is not None


def bare_numbers(texts: Sequence[str], decimal: str) -> list[str]:
    """The numbers of a column that carry no unit of their own, as the file writes plain numbers."""
    read = {t: any_way(t, decimal) for t in set(texts) if parse_length(t) is None}
    found = (read.get(t) for t in filled(texts))
    return [got[0].replace(".", decimal) for got in found if got is not None and not got[2]]


def readable(texts: Sequence[str], decimal: str) -> float:
    """The share of the filled cells of a column that are numbers, in whatever way they are written."""
    return _share(filled(texts), lambda t: any_way(t, decimal) is not None or parse_length(t) is not None)


def are_lengths(texts: Sequence[str]) -> bool:
    """Whether the cells are feet and inches, or lengths with their unit."""
    return _share(filled(texts), lambda t: parse_length(t) is not None) >= MOSTLY


def days_of(texts: Sequence[str], *, named: bool = False) -> Days | None:
    """How the days of a column are written; None where it holds no days.

    Where its header is a word for the day (`named`) half of the cells are enough, the others are held later; days
    without a year and a spreadsheet's or a clock's count are days only there.
    """
    distinct = list(dict.fromkeys(filled(texts)))
    if not distinct:
        return None
    days = _days_of(distinct)
    if days is not None or not named:
        return days
    for form in COUNTED:
        if all(_reads(t, form) for t in distinct):
            return Days(forms=(form,))
    yearless = [form for form in YEARLESS if all(_reads(f"{t} 2032", form) for t in distinct)]
    if yearless:
        return replace(_one_form(yearless), yearless=True)
    some = {t for t in distinct if _is_iso(t) or any(_reads(t, form) for form in FORMS)}
    kept = filled(texts)
    return _days_of(sorted(some)) if 2 * sum(t in some for t in kept) >= len(kept) else None


def _days_of(distinct: Sequence[str]) -> Days | None:
    iso = [t for t in distinct if _is_iso(t)]
    rest = [t for t in distinct if t not in iso]
    if not rest:
        return Days(forms=(), iso=True)
    fitting = [f for f in FORMS if all(_reads(t, f) for t in rest)]
    if fitting and not iso:
        return _one_form(fitting)
    longer = [t for t in rest if not SHORT.fullmatch(t)]
    used = [f for f in FORMS if any(_reads(t, f) for t in longer)]
    return _mixed(distinct, _settled(used, rest), bool(iso))


def _one_form(fitting: Sequence[str]) -> Days:
    other = next((f for f in fitting[1:] if _orders(f) != _orders(fitting[0])), "")
    return Days(forms=(fitting[0],), other=other)


def _orders(form: str) -> bool:
    return form.index("%d") < form.index("%m" if "%m" in form else "%b" if "%b" in form else "%B")


def _settled(forms: Sequence[str], texts: Sequence[str]) -> list[str]:
    """Of two orders of the same signs, the one that reads every text of that shape."""
    kept = []
    for form in forms:
        twin = form.replace("%d", "%_").replace("%m", "%d").replace("%_", "%m")
        shaped = [t for t in texts if _reads(t, form) or _reads(t, twin)]
        if twin not in forms or all(_reads(t, form) for t in shaped):
            kept.append(form)
    return kept


def _mixed(texts: Sequence[str], forms: Sequence[str], iso: bool) -> Days | None:
    """Several forms in one column, where each text is read by exactly one day."""
    if not forms:
        return None
    every = (*(("%Y-%m-%d", "%Y-%m-%d %H:%M:%S") if iso else ()), *forms)
    settled = sum(_is_iso(day_text(t, every)) for t in texts)
    return Days(forms=every) if settled >= MOSTLY * len(texts) else None


def _reads(text: str, form: str) -> bool:
    return any(1990 <= moment.year <= 2090 for moment in moments(text, [form]))


def fits_plainly(texts: Sequence[str], form: str) -> bool:
    """Whether every day of a column has one form letter by letter, with no word put into English first."""
    return all(_fits(t, form) for t in filled(texts))


def _fits(text: str, form: str) -> bool:
    try:
        return bool(datetime.strptime(text, form))
    except ValueError:
        return False


def _is_iso(text: str) -> bool:
    if not re.match(r"\d{4}-\d\d-\d\d([T ]\d|$)", text):
        return False
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def inside(texts: Sequence[str], form: str, first: date | None, last: date | None) -> float:
    """The share of days, read in one form, that fall within the camps; 1 where no camp is known."""
    days = [moment.date() for t in filled(texts) for moment in moments(t, [form])]
    if first is None or last is None or not days:
        return 1.0
    return sum(first <= day <= last for day in days) / len(days)
