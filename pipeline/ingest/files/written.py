"""Cells that hold more than a number: '165 lb', '225x3', '3x5 @ 225', ':07.01', '21 1/2'."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from functools import lru_cache

import pandas as pd

from latewood.pipeline.catalogue.units import find_unit, parse_length

ANY = "any"  # each cell of a column by itself, where they are written in several ways
NUMBER = r"(?P<load>\d+(?:[.,]\d+)?)"
PATTERNS = {
    "number unit": re.compile(rf"{NUMBER}\s*(?P<unit>[^\d\s].*)"),
    "load x reps": re.compile(rf"{NUMBER}\s*[x×*]\s*(?P<reps>\d{{1,2}})", re.IGNORECASE),
    "sets x reps @ load": re.compile(
        rf"(?P<sets>\d{{1,2}})\s*[x×*]\s*(?P<reps>\d{{1,2}})\s*(?:@|at)\s*{NUMBER}", re.IGNORECASE
    ),
}


_GROUPS = re.compile(r"\d{1,3}(?:[ \u00a0\u202f'’]\d{3})+(?:[.,]\d+)?")
_POINTED = re.compile(r"[-+−]?(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:[.,]\d+)?|[.,]\d+)")
_SECONDS = re.compile(r"(?:0{1,2}:){0,2}(?P<left>:)?(?P<seconds>\d{1,2}[.,]\d{1,6})")
_FRACTION = re.compile(r"(?P<whole>\d+)[ -]?(?:(?P<top>\d)/(?P<bottom>[248])|(?P<sign>[½¼¾]))")
_QUARTERS = {"½": "0.5", "¼": "0.25", "¾": "0.75"}
_WORD = r"(?:[^\W\d_]+|#)"
_SETS = re.compile(
    rf"{NUMBER}\s*(?:(?P<unit>{_WORD})\.?\s+|(?P<close>{_WORD})\s*(?=[x×*]\s*\d))?(?:[x×*]|for)\s*"
    rf"(?P<reps>\d{{1,2}})(?:\s*(?P<after>{_WORD})\.?)?",
    re.IGNORECASE,
)
_WITH_UNIT = re.compile(r"(?P<number>[^a-zµ°%]*\d[½¼¾]?)\s*(?P<unit>[^\d\s.,:][^\d]*)", re.IGNORECASE)


def feet_and_inches(feet: pd.Series, inches: pd.Series) -> pd.Series:
    """The two columns of a length as one text: 5 and 11 as 5'11"; '' where both are blank.

    Where one is blank or no number its place holds a question mark, so that nothing is read and the row is asked.
    """
    result = feet.where(feet != "", "?") + "'" + inches.where(inches != "", "?") + '"'
    return result.where((feet != "") | (inches != ""), "")


@lru_cache(maxsize=65536)  # a long column holds few texts
def any_way(text: str, decimal: str = ".") -> tuple[str, str, str] | None:
    """Number, repetitions and unit of one cell, '' for those it does not state; None where it is none of these.

    A time may have noughts for hours and minutes before it; a set is a load with its repetitions. What is marked
    ("79.1*", "~81", "82 (tee)") is none, and neither is a length in feet.

    >>> any_way(":07.01"), any_way("100kg x 5"), any_way("21 1/2"), any_way("7.42s"), any_way("79.1*")
    (('7.01', '', ''), ('100', '5', 'kg'), ('21.5', '', ''), ('7.42', '', 's'), None)
    """
    number = _plain_number(text, decimal)
    if number is not None:
        return number, "", ""
    if match := _SETS.fullmatch(text):
        unit = match["unit"] or match["close"] or match["after"] or ""
        known = not unit or find_unit(unit) is not None
        return (match["load"].replace(",", "."), match["reps"], unit) if known else None
    if (match := _WITH_UNIT.fullmatch(text)) and find_unit(match["unit"]) is not None:
        number = _plain_number(match["number"].strip(), decimal)
        return None if number is None else (number, "", match["unit"].strip())
    return None


def _plain_number(text: str, decimal: str) -> str | None:
    """A number with a point, without marks between thousands; None where a text is none."""
    if match := _FRACTION.fullmatch(text):
        part = (
            _QUARTERS[match["sign"]]
            if match["sign"]
            else str(Decimal(match["top"]) / Decimal(match["bottom"]))
        )
        return str(Decimal(match["whole"]) + Decimal(part))
    if _GROUPS.fullmatch(text):
        text = re.sub(r"[ \u00a0\u202f'’]", "", text)
    if _POINTED.fullmatch(text):
        text = text.replace("−", "-")
        if re.fullmatch(r"[-+]?\d{1,3}(,\d{3})+(\.\d+)?", text) and decimal == ".":
            return text.replace(",", "")
        return text.replace(",", ".") if text.count(",") <= 1 else None
    match = _SECONDS.fullmatch(text)
    return match["seconds"].replace(",", ".").lstrip("0").rjust(2, "0") if match else None


def _taken_any(part: pd.DataFrame, decimal: str) -> pd.DataFrame:
    """Each cell by itself; one that is a length, or written in no way that is known, stays as it is."""
    texts = part["raw_value"]
    pieces = {text: any_way(text, decimal) for text in texts.unique() if parse_length(text) is None}
    read = [pieces.get(text) for text in texts]
    changed = part.copy()
    changed["raw_value"] = [
        text if got is None else got[0].replace(".", decimal) for text, got in zip(texts, read, strict=True)
    ]
    changed["reps_text"] = [
        got[1] if got and got[1] else old for got, old in zip(read, part["reps_text"], strict=True)
    ]
    units = zip(texts, read, part["raw_unit"], strict=True)
    changed["raw_unit"] = [_unit_of(text, got, old) for text, got, old in units]
    return changed


def _unit_of(text: str, got: tuple[str, str, str] | None, usual: str) -> str:
    if got is None:
        return "in" if parse_length(text) is not None else usual  # a length carries its own
    return got[2] or usual


def scaled(texts: pd.Series, scale: str, decimal: str) -> pd.Series:
    """Cells with their number multiplied, without rounding; one that is no number stays as it is."""
    if Decimal(scale) == 1:
        return texts
    return texts.map({text: scaled_text(text, scale, decimal) for text in texts.unique()})


def scaled_text(text: str, scale: str, decimal: str = ".") -> str:
    """One number multiplied, written as the file writes numbers.

    >>> scaled_text("-71,5", "-1", ","), scaled_text("715", "0.1"), scaled_text("slipped", "-1")
    ('71,5', '71.5', 'slipped')
    """
    try:
        number = Decimal(text.replace(",", ".") if decimal == "," else text) * Decimal(scale)
    except InvalidOperation:
        return text
    return f"{number:f}".replace(".", decimal) if number.is_finite() else text


def taken_apart(part: pd.DataFrame, written: str, decimal: str = ".") -> pd.DataFrame:
    """Return rows of cells with number, repetitions and unit apart; a cell that is not so written stays as it is."""
    if written == "number":
        return part
    if written == ANY:
        return _taken_any(part, decimal)
    pattern = PATTERNS[written]
    matches = {text: pattern.fullmatch(text) for text in part["raw_value"].unique()}
    pieces = {text: match.groupdict() for text, match in matches.items() if match}
    changed = part.copy()
    changed["raw_value"] = [pieces.get(t, {}).get("load", t) for t in part["raw_value"]]
    for column, key in (("reps_text", "reps"), ("raw_unit", "unit")):
        if key in pattern.groupindex:
            before = zip(part["raw_value"], part[column], strict=True)
            changed[column] = [(pieces.get(t, {}).get(key) or old).strip() for t, old in before]
    return changed
