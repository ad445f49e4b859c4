"""Cells that hold more than a number: '165 lb', '225x3', '3x5 @ 225'."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation

import pandas as pd

NUMBER = r"(?P<load>\d+(?:[.,]\d+)?)"
PATTERNS = {
    "number unit": re.compile(rf"{NUMBER}\s*(?P<unit>[^\d\s].*)"),
    "load x reps": re.compile(rf"{NUMBER}\s*[x×*]\s*(?P<reps>\d{{1,2}})", re.IGNORECASE),
    "sets x reps @ load": re.compile(
        rf"(?P<sets>\d{{1,2}})\s*[x×*]\s*(?P<reps>\d{{1,2}})\s*(?:@|at)\s*{NUMBER}", re.IGNORECASE
    ),
}


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


def taken_apart(part: pd.DataFrame, written: str) -> pd.DataFrame:
    """Return rows of cells with number, repetitions and unit apart; a cell that is not so written stays as it is."""
    if written == "number":
        return part
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
