"""Questions to the catalogue: what a name means, in which line a reading stands, which band holds."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date

from latewood.pipeline.catalogue.model import NOT_STATED, Band, Catalogue, Condition, Measure
from latewood.pipeline.catalogue.units import display_decimals

DAYS_PER_YEAR = 365.25


def plain(text: str) -> str:
    """The text without case, spaces and punctuation, for comparing names.

    >>> plain("Exit Speed (tee)")
    'exitspeedtee'
    """
    return re.sub(r"[\W_]", "", text.casefold())


def names_of(measure: Measure) -> frozenset[str]:
    """All names of a measure in plain form: its key, its label and what else files call it."""
    return frozenset(plain(name) for name in (measure.key, measure.label, *measure.also))


def find_measure(catalogue: Catalogue, text: str) -> Measure | None:
    """The measure whose key, label or other name is `text`, whatever its case and punctuation; else None."""
    exact = catalogue.measures.get(text)
    if exact is not None:
        return exact
    wanted = plain(text)
    return next((m for m in catalogue.measures.values() if wanted in names_of(m)), None)


def find_value(condition: Condition, text: str) -> str | None:
    """The value of the condition that `text` means; 'not stated' for a blank; None where nobody knows."""
    wanted = plain(text)
    if wanted in ("", plain(NOT_STATED)):
        return NOT_STATED
    known = {plain(other): value for other, value in condition.spellings}
    known |= {plain(value): value for value in condition.values}
    return known.get(wanted)


def find_rating(measure: Measure, text: str) -> int | None:
    """The grade, 0 for the first, that a word or figure means on the measure's scale; else None."""
    wanted = plain(text)
    words = [plain(rating) for rating in measure.ratings]
    if wanted in words:
        return words.index(wanted)
    grade = int(wanted) if re.fullmatch(r"[0-9]", wanted) else -1
    return grade if 0 <= grade < len(words) else None


def decimals_in(measure: Measure, unit: str) -> int:
    """The number of decimals to print for a value of the measure shown in `unit`, its own or another."""
    return display_decimals(measure.resolution, measure.unit, measure.decimals, unit)


def line_of(measure: Measure, conditions: Mapping[str, str]) -> str:
    """The line of a reading: its must-match conditions in the catalogue's order.

    For example 'delivery=tee; bat=metal; device=radar'; a condition that is missing, blank or no known value
    reads 'not stated'; '' for a measure without must-match conditions.
    """
    stated = ((c.key, find_value(c, conditions.get(c.key, "")) or NOT_STATED) for c in measure.must_match)
    return "; ".join(f"{key}={value}" for key, value in stated)


def parse_line(line: str) -> dict[str, str]:
    """The conditions that a line's text states, by key.

    >>> parse_line("delivery=tee; bat=metal")
    {'delivery': 'tee', 'bat': 'metal'}
    """
    pairs = (part.partition("=") for part in line.split("; ") if part)
    return {key: value for key, _, value in pairs}


def line_label(measure: Measure, line: str) -> str:
    """The line in words, such as 'tee, metal bat, radar'; '' for a measure without conditions.

    What is not stated follows in brackets, by the conditions' labels.
    """
    values = parse_line(line)
    known = [c for c in measure.must_match if values.get(c.key, NOT_STATED) != NOT_STATED]
    unknown = [c.label.lower() for c in measure.must_match if c not in known]
    words = ", ".join(c.words.format(values[c.key]) for c in known)
    if not unknown:
        return words
    missing = f"{', '.join(unknown)} not stated"
    return f"{words} ({missing})" if words else missing


def band_for(measure: Measure, sport: str | None, age: float | None) -> Band | None:
    """The plausible band of a sport at an age in years; a band for any sport where it has none; else None."""
    if age is None:
        return None
    fitting = [b for b in measure.bands if b.age_low <= age < b.age_high]
    own = (b for b in fitting if b.sport == sport)
    return next(own, next((b for b in fitting if b.sport == "any"), None))


def age_years(birth: date, on: date) -> float:
    """The age in years of 365.25 days, the convention of the growth references."""
    return (on - birth).days / DAYS_PER_YEAR
