"""Reads a header: which measure it names, in what unit, under which conditions, and as which trial."""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz import fuzz, process

from latewood.pipeline.catalogue.lookup import find_value, names_of, plain
from latewood.pipeline.catalogue.model import NOT_STATED, Catalogue, Measure
from latewood.pipeline.catalogue.units import find_unit
from latewood.pipeline.ingest.look.words import (
    COMPUTED,
    DATE_WORDS,
    FIELD_WORDS,
    FOREIGN_WORDS,
    MEASURE_WORDS,
    NOT_A_READING,
    TRIAL_WORDS,
)

NEAR = 84  # of 100: below this likeness a header is not even asked about
METRES = frozenset([
    "m",
    "meter",
    "meters",
    "metre",
    "metres",
    "mtr",
])  # in these a distance is another than in yards
_TOKEN = re.compile(r"[^\W_]+(?:/[^\W_]+)?|%|°/s|#")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A header taken for a measure. `strange` are its words that nothing explains; `score` is 100 for a known name."""

    measure: str
    unit: str
    trial: int
    conditions: tuple[tuple[str, str], ...]
    computed: bool
    refused: bool
    strange: tuple[str, ...]
    score: int


def tokens_of(text: str) -> list[str]:
    """The words, numbers and units of a header in lower case.

    >>> tokens_of("Exit Velo (mph) #2"), tokens_of("bodyWeight_lb")
    (['exit', 'velo', 'mph', '#', '2'], ['body', 'weight', 'lb'])
    """
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text.replace("_", " "))
    return _TOKEN.findall(apart.casefold())


def name_table(catalogue: Catalogue) -> Mapping[str, str]:
    """Every plain name of a measure, with those of sheets, and the measure's key."""
    table = {name: key for key, measure in catalogue.measures.items() for name in names_of(measure)}
    for key, words in (*MEASURE_WORDS.items(), *FOREIGN_WORDS.items()):
        if key in catalogue.measures:
            table |= {plain(word): key for word in words.split(",") if plain(word) not in table}
    return table


def read_header(text: str, catalogue: Catalogue, names: Mapping[str, str]) -> Reading | None:
    """The measure a header names, exactly or nearly; None where it names none."""
    tokens = tokens_of(text)
    for length in range(len(tokens), 0, -1):
        for start in range(len(tokens) - length + 1):
            key = names.get("".join(tokens[start : start + length]).replace("/", ""))
            rest = [*tokens[:start], *tokens[start + length :]]
            if key is None or (_only_digits(tokens[start : start + length]) and not _units_only(rest)):
                continue
            if METRES & set(rest) and "yd" in key:
                continue  # ten metres are no ten yards
            return _explained(catalogue.measures[key], rest, 100)
    return _near(tokens, catalogue, names)


def _only_digits(tokens: Sequence[str]) -> bool:
    return all(token.isdigit() for token in tokens)


def _units_only(tokens: Sequence[str]) -> bool:
    return all(find_unit(token) is not None or token in COMPUTED | NOT_A_READING for token in tokens)


def _near(tokens: Sequence[str], catalogue: Catalogue, names: Mapping[str, str]) -> Reading | None:
    bare = [t for t in tokens if find_unit(t) is None and not t.isdigit()]
    word = "".join(bare)
    if len(word) < 5:
        return None
    match = process.extractOne(word, [n for n in names if len(n) > 4], scorer=fuzz.ratio, score_cutoff=NEAR)
    if match is None:
        return None
    rest = [t for t in tokens if t not in bare]
    return _explained(catalogue.measures[names[match[0]]], rest, round(match[1]))


def _explained(measure: Measure, rest: Sequence[str], score: int) -> Reading:
    """What the words beside a measure's name say."""
    unit, trial, strange = "", 0, []
    conditions: dict[str, str] = {}
    computed = refused = False
    for piece in _pieces(measure, rest):
        known = find_unit(piece) if not piece.isdigit() and piece != "#" else None
        condition = _condition(measure, piece)
        if known is not None and known.symbol in measure.accepted_units:
            unit = known.symbol
        elif piece in NOT_A_READING:
            refused = True
        elif condition is not None:
            conditions[condition[0]] = condition[1]
        elif match := re.fullmatch(r"[a-z]?([1-9]\d?)", piece):
            trial = int(match[1])
        elif piece in COMPUTED:
            computed = True
        elif piece not in TRIAL_WORDS and piece != "#" and piece not in tokens_of(measure.label):
            strange.append(piece)
    return Reading(
        measure=measure.key,
        unit=unit,
        trial=trial,
        conditions=tuple(sorted(conditions.items())),
        computed=computed,
        refused=refused,
        strange=tuple(strange),
        score=score,
    )


def _pieces(measure: Measure, rest: Sequence[str]) -> Iterator[str]:
    """The words, two of them together where they name a unit or a condition."""
    i = 0
    while i < len(rest):
        pair = " ".join(rest[i : i + 2])
        both = (find_unit(pair) is not None and pair != "m s") or _condition(measure, pair) is not None
        step = 2 if i + 1 < len(rest) and both else 1
        yield pair if step == 2 else rest[i]
        i += step


def _condition(measure: Measure, word: str) -> tuple[str, str] | None:
    """The condition and value that a word names, where it can be only one."""
    if word.isdigit():
        return None
    fits = [(c.key, find_value(c, word)) for c in measure.conditions]
    known = [(key, value) for key, value in fits if value is not None and value != NOT_STATED]
    return known[0] if len(known) == 1 else None


@lru_cache(maxsize=1)
def _field_table() -> Mapping[str, str]:
    return {plain(word): field for field, words in FIELD_WORDS.items() for word in words.split(",")}


def field_of(header: str) -> str:
    """The field that a header is a usual word for; '' for none.

    >>> field_of("Player Name"), field_of("Session date"), field_of("Swing #"), field_of("Colour")
    ('athlete', 'measured_on', 'trial', '')
    """
    bare = plain(re.sub(r"\(.*?\)", "", header).replace("#", " no"))
    return _field_table().get(bare) or _field_table().get(bare.removesuffix("no"), "")


def names_day(header: str) -> bool:
    """Whether a header says that its column holds days, of whatever.

    >>> names_day("Measure date"), names_day("Fecha"), names_day("Update"), names_day("Date of birth")
    (True, True, False, True)
    """
    return field_of(header) == "measured_on" or bool(set(tokens_of(header)) & DATE_WORDS)


def without_day(header: str) -> str:
    """The words of a header beside its day."""
    rest = re.sub(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}(?: 00:00:00)?", " ", header)
    rest = re.sub(r"(?:\d{1,2}\.?[ -])?[A-Za-z]{3,9}\.?[ -](?:\d{1,2},? )?\d{4}", " ", rest)
    return " ".join(rest.split())


_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = (
    "(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?"
    r"|nov(?:ember)?|dec(?:ember)?)\.?"
)
_HALF_DAY = re.compile(
    rf"(?<![\w/.-])(?:(?P<day>\d{{1,2}})(?:st|nd|rd|th|\.)?[ -](?P<month>{_MONTH})"
    rf"|(?P<before>{_MONTH})[ -](?P<after>\d{{1,2}})(?:st|nd|rd|th)?"
    r"|(?P<one>\d{1,2})/(?P<other>\d{1,2}))(?![\w/]|[.-]\d)",
    re.IGNORECASE,
)


def half_days(header: str) -> tuple[tuple[int, int], tuple[int, int]] | None:
    """Month and day of the one day without a year in a header, as read month first and day first; (0, 0) for no day.

    >>> half_days("14 Jun Wt lb"), half_days("6/14 Wt"), half_days("60 yd")
    (((6, 14), (6, 14)), ((6, 14), (0, 0)), None)
    """
    found = list(_HALF_DAY.finditer(header))
    if len(found) != 1:
        return None
    match = found[0]
    if match["one"]:
        one, other = int(match["one"]), int(match["other"])
        both = (_possible(one, other), _possible(other, one))
    else:
        month = _MONTHS.index((match["month"] or match["before"])[:3].lower()) + 1
        both = (_possible(month, int(match["day"] or match["after"])),) * 2
    return both if any(both[0]) or any(both[1]) else None


def _possible(month: int, day: int) -> tuple[int, int]:
    return (month, day) if 1 <= month <= 12 and 1 <= day <= monthrange(2032, month)[1] else (0, 0)


def without_half_day(header: str) -> str:
    """The words of a header beside its day without a year."""
    return " ".join(_HALF_DAY.sub(" ", header).split())


def header_score(catalogue: Catalogue) -> dict[str, str]:
    """The table of names, ready for a look at many headers."""
    return dict(name_table(catalogue))
