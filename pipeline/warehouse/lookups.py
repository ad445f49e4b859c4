"""Answers what each distinct text of the files means, once, so that the checks can run on whole columns."""

from __future__ import annotations

import json
import math
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time
from difflib import get_close_matches

import pandas as pd

from latewood.pipeline.catalogue.lookup import find_measure, find_rating, find_value, line_of
from latewood.pipeline.catalogue.model import NOT_STATED, Catalogue, Measure
from latewood.pipeline.catalogue.units import UNITS, convert, find_unit, linear, parse_length
from latewood.pipeline.stats.links.strength import one_rep_max
from latewood.pipeline.warehouse.slots import is_slot

REPS_MOST = 6
NO_VALUES = (0.0, 99.9, 999.0, 999.9, 9999.0)
_WHOLE_ID = re.compile(r"\d+\.0")
_ISO_DATE = re.compile(r"\d{4}-\d\d-\d\d([T ]\d|$)")
_APOSTROPHES = str.maketrans(dict.fromkeys("’‘`´ʼ", "'"))
_SLASHED = re.compile(r"(\d{1,2})[/.\-](\d{1,2})[/.\-](\d{4})")


def plain_name(text: str) -> str:
    """A name without case, accents, stops and kinds of apostrophe, for comparing.

    >>> plain_name("José  O’Neill Jr.")
    "jose o'neill jr"
    """
    letters = (c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return " ".join("".join(letters).casefold().replace(".", "").translate(_APOSTROPHES).split())


def ids_of(text: str, names: Mapping[str, Sequence[str]]) -> Sequence[str]:
    """The ids of the athletes that carry a name or id.

    Also where a narrow cell has broken an id over two lines, or a spreadsheet has made "1012.0" of it.
    """
    result = names.get(text) or names.get(plain_name(text))
    if not result and ("\n" in text or "\r" in text):
        full = "".join(text.split())
        result = names.get(full) or names.get(plain_name(full))
    if not result and _WHOLE_ID.fullmatch(text):
        result = names.get(text.partition(".")[0])
    return result or ()


def athlete_lookup(texts: Iterable[str], names: Mapping[str, Sequence[str]]) -> pd.DataFrame:
    """Return for each text the athlete it names.

    `names` maps an id, or a plain name, to the ids that carry it.
    Columns athlete_text, athlete_id, problem, suggestion, slot (see `slots.is_slot`).
    """
    known = list(names)
    rows = []
    for text in texts:
        ids = ids_of(text, names)
        slot = not ids and is_slot(text)
        close: list[str] = [] if ids or slot else get_close_matches(plain_name(text), known, n=1, cutoff=0.85)
        problem = None if len(ids) == 1 else "same_name" if ids else "unknown_athlete"
        suggestion = " or ".join(ids) if len(ids) > 1 else names[close[0]][0] if close else None
        rows.append((text, ids[0] if len(ids) == 1 else None, problem, suggestion, slot))
    columns = ["athlete_text", "athlete_id", "problem", "suggestion", "slot"]
    return pd.DataFrame(rows, columns=columns, dtype=object)


def measure_lookup(texts: Iterable[str], catalogue: Catalogue) -> pd.DataFrame:
    """Return for each text the key of the measure it names. Columns measure_text, measure."""
    result = ((text, find_measure(catalogue, text)) for text in texts)
    rows = [(text, m.key if m else None) for text, m in result]
    return pd.DataFrame(rows, columns=["measure_text", "measure"], dtype=object)


def unit_lookup(pairs: Iterable[tuple[str, str]], catalogue: Catalogue) -> pd.DataFrame:
    """Return for each (measure, unit text) the factor to the canonical unit; none where not accepted.

    A blank unit stands for the only accepted one; where several are accepted it is not accepted.
    Columns measure, raw_unit, factor, unit.
    """
    rows = []
    for key, text in pairs:
        measure = catalogue.measures[key]
        if (not text and len(measure.accepted_units) == 1) or measure.kind == "rating":
            rows.append((key, text, 1.0, measure.unit))
            continue
        unit = find_unit(text) if text else None
        if unit is not None and unit.symbol in measure.accepted_units:
            rows.append((key, text, linear(unit.symbol, measure.unit), unit.symbol))
    return pd.DataFrame(rows, columns=["measure", "raw_unit", "factor", "unit"])


def number_lookup(pairs: Iterable[tuple[str, str]], catalogue: Catalogue) -> pd.DataFrame:
    """Return the canonical value of texts that are no plain number: ratings and feet with inches.

    Columns measure, raw_value, number.
    """
    rows: list[tuple[str, str, float]] = []
    for key, text in pairs:
        measure = catalogue.measures[key]
        if measure.kind == "rating":
            grade = find_rating(measure, text)
            number = None if grade is None else float(grade)
        elif {"ft", "in"} & set(measure.accepted_units):
            length = parse_length(text)
            number = None if length is None else convert(length, "cm", measure.unit)
        else:
            number = None
        if number is not None:
            rows.append((key, text, number))
    return pd.DataFrame(rows, columns=["measure", "raw_value", "number"])


def date_lookup(pairs: Iterable[tuple[str, str]], window: tuple[date, date] | None) -> pd.DataFrame:
    """Return for each (text, declared format) of one file the date it means.

    Without a declared format only ISO dates are certain. Others are read both ways: if the file as a
    whole, or the span of the camps (`window`), leaves one reading, it is proposed; nothing is taken.
    A date with a time gives both. Columns date_text, date_format, on_date, clock, other_date, problem.
    """
    pairs = list(pairs)
    undeclared = [text for text, form in pairs if not form]
    day_first, month_first = _order_evidence(undeclared)
    rows: list[tuple[str, str, date | None, time | None, date | None, str | None]] = []
    for text, form in pairs:
        certain = _parsed(text, form)
        if certain is not None:
            clock = certain.time() if "%H" in form or "%I" in form or (not form and len(text) > 10) else None
            rows.append((text, form, certain.date(), clock, None, None))
        elif form:
            rows.append((text, form, None, None, None, "unreadable_date"))
        else:
            read, other, problem = _both_ways(text, window, day_first=day_first, month_first=month_first)
            rows.append((text, form, read, None, other, problem))
    columns = ["date_text", "date_format", "on_date", "clock", "other_date", "problem"]
    return pd.DataFrame(rows, columns=columns, dtype=object)


def _parsed(text: str, form: str) -> datetime | None:
    """The date, and time if there is one, as written; a zone is left to the column that keeps times."""
    try:
        if form:
            return datetime.strptime(text, form)
        return datetime.fromisoformat(text).replace(tzinfo=None) if _ISO_DATE.match(text) else None
    except ValueError:
        return None


def _order_evidence(texts: Iterable[str]) -> tuple[bool, bool]:
    result = [m for m in map(_SLASHED.fullmatch, texts) if m]
    return any(int(m[1]) > 12 for m in result), any(int(m[2]) > 12 for m in result)


def _both_ways(
    text: str, window: tuple[date, date] | None, *, day_first: bool, month_first: bool
) -> tuple[date | None, date | None, str]:
    match = _SLASHED.fullmatch(text)
    if match is None:
        return None, None, "unreadable_date"
    first, second, year = (int(part) for part in match.groups())
    american, european = _date(year, first, second), _date(year, second, first)
    if day_first != month_first:
        american, european = (american, None) if month_first else (None, european)
    inside = [d for d in (american, european) if d and (window is None or window[0] <= d <= window[1])]
    readings = inside or [d for d in (american, european) if d]
    if not readings:
        return None, None, "unreadable_date"
    one = len(set(readings)) == 1
    return readings[0], None if one else readings[-1], "date_ambiguous"


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def reps_lookup(pairs: Iterable[tuple[str, str]], catalogue: Catalogue) -> pd.DataFrame:
    """Return what one unit of load for so many repetitions makes as a one-repetition maximum.

    All formulas in use are proportional to the load. Columns measure, reps_text, factor.
    """
    rows = []
    for key, text in pairs:
        formula = catalogue.measures[key].rep_formula
        reps = int(float(text)) if re.fullmatch(r"\d{1,3}(\.0+)?", text) else 0
        if formula and 1 <= reps <= REPS_MOST:
            rows.append((key, text, float(one_rep_max(formula, 1.0, float(reps)))))
        elif not formula:
            rows.append((key, text, 1.0))
    return pd.DataFrame(rows, columns=["measure", "reps_text", "factor"])


def line_lookup(
    pairs: Iterable[tuple[str, int]], combinations: Sequence[Mapping[str, str]], catalogue: Catalogue
) -> pd.DataFrame:
    """Return the line and the stated conditions of each (measure, combination of conditions).

    Columns measure, combination, line, conditions (JSON), set_aside, problem, detail.
    """
    rows = [(key, int(i), *_line(catalogue.measures[key], combinations[int(i)])) for key, i in pairs]
    return pd.DataFrame(
        rows,
        columns=["measure", "combination", "line", "conditions", "set_aside", "problem", "detail"],
        dtype=object,
    )


def _line(measure: Measure, stated: Mapping[str, str]) -> tuple[str, str, bool, str | None, str | None]:
    known: dict[str, str] = {}
    problem = detail = None
    for condition in measure.conditions:
        text = stated.get(condition.key, "")
        value = find_value(condition, text)
        if value is None:
            problem = "unknown_condition"
            detail = f"{condition.key} {text!r} is not one of {', '.join(condition.values)}"
            known[condition.key] = text
        elif value != NOT_STATED:
            known[condition.key] = value
    aside = any(known.get(c.key) in c.set_aside for c in measure.conditions)
    return (
        line_of(measure, known),
        json.dumps(known, sort_keys=True, ensure_ascii=False),
        aside,
        problem,
        detail,
    )


def multipliers(catalogue: Catalogue) -> pd.DataFrame:
    """Return the factors by which a value read in one unit becomes the same digits in another, or with a point.

    Columns measure, unit, rule, factor, other_unit.
    """
    rows: list[tuple[str, str, str, float, str]] = []
    for measure in catalogue.measures.values():
        if measure.kind != "number":
            continue
        for unit in measure.accepted_units:
            for other in _slips(unit):
                rows.append((measure.key, unit, "unit_slip", linear(other, unit), other))
            for places in (1, 2):
                rows.append((measure.key, unit, "lost_point", math.pow(10, -places), unit))
    return pd.DataFrame(rows, columns=["measure", "unit", "rule", "factor", "other_unit"])


# Units in daily use that are taken for each other, by quantity: for single values and for whole columns alike.
CONFUSED: Mapping[str, tuple[str, ...]] = {
    "mass": ("kg", "lb"),
    "length": ("cm", "in", "m", "ft", "yd"),
    "speed": ("mph", "km/h", "m/s"),  # feet per second are too near to km/h, and no device here writes them
    "rotational speed": ("deg/s", "rad/s", "rpm"),
}
# Metres and yards lie 9 % apart, as do days of one athlete: no value can tell the two.
NEAREST_TOLD = 1.25


def _slips(unit: str) -> list[str]:
    """The units people type by mistake for this one: of the same quantity, and far enough from it to be told."""
    others = CONFUSED.get(UNITS[unit].quantity, ())
    return [o for o in others if o != unit and abs(math.log(linear(o, unit))) > math.log(NEAREST_TOLD)]


def band_table(catalogue: Catalogue) -> pd.DataFrame:
    """Return the plausible ranges of measures. Columns measure, sport, age_low, age_high, low, high."""
    rows = [
        (m.key, b.sport, b.age_low, b.age_high, b.low, b.high)
        for m in catalogue.measures.values()
        for b in m.bands
    ]
    return pd.DataFrame(rows, columns=["measure", "sport", "age_low", "age_high", "low", "high"])
