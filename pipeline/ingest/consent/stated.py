"""What the family may have printed on a recruiter's sheet in their own words: four fields, each under its own consent.

Nothing of it is measured or checked here, and every form says so beside it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final
from urllib.parse import urlsplit

from latewood.pipeline.ingest.consent.health import word_of_health

MARK: Final = "stated by the family, not checked here"
LABELS: Final[Mapping[str, str]] = {
    "school": "School", "academic": "Academic line", "contact": "Contact", "film": "Film",
}  # fmt: skip
STATED: Final = tuple(LABELS)
LONGEST: Final[Mapping[str, int]] = {"school": 80, "academic": 120, "contact": 100, "film": 80}
LONGEST_WORD: Final = 40  # of all but the film: longer ones break no line of a printed sheet
_ADDRESS = re.compile(r"https?://[A-Za-z0-9._~:/?#\[\]!$&()*+,;=%-]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One field as the family states it, with the last day on which it may be printed."""

    field: str
    text: str
    stated_on: date
    until: date


def problem_of(field: str, text: str) -> str:
    """What is wrong with a statement, with the fix; '' where it may be printed.

    >>> problem_of("school", "Oak Hollow"), problem_of("film", "javascript:x")
    ('', 'is no web address; give one that begins with https://')
    """
    if not text:
        return "is empty; write what is to be printed"
    if len(text) > LONGEST[field]:
        return f"has {len(text)} letters; at most {LONGEST[field]} are printed"
    if any(unicodedata.category(letter).startswith("C") for letter in text):
        return "holds a sign that cannot be printed; type it anew"
    if word_of_health(text):
        return "speaks of health, which never stands on a sheet; leave that out"
    if field == "film":
        return _film_problem(text)
    if max(map(len, text.split()), default=0) > LONGEST_WORD:
        return f"has a word of over {LONGEST_WORD} letters, which breaks no line; shorten it"
    return ""


def _film_problem(text: str) -> str:
    no_address = "is no web address; give one that begins with https://"
    try:
        parts = urlsplit(text)
    except ValueError:
        return no_address
    plain = _ADDRESS.fullmatch(text) is not None and "." in (parts.hostname or "")
    return "" if plain else no_address
