"""Conditions and measures built from their tables, with every rule a declaration must keep."""

from __future__ import annotations

import re
from collections.abc import Mapping

from latewood.pipeline.catalogue.entry import Fault, TomlEntry
from latewood.pipeline.catalogue.model import (
    FAMILIES,
    NOT_STATED,
    Band,
    Better,
    Condition,
    Measure,
    SummaryRule,
)
from latewood.pipeline.catalogue.units import UNITS, linear

SPORTS = ("baseball", "softball", "any")
KINDS = ("number", "rating")
# Names under which the strength statistics know the equations for a one-repetition maximum.
REP_FORMULAS = ("", "epley", "brzycki", "lander", "lombardi", "mayhew", "oconner", "wathen")

CONDITION_FIELDS = (
    "label",
    "values",
    "must_match",
    "bridgeable",
    "meaning",
    "spellings",
    "words",
    "set_aside",
)
FIGURES = ("resolution", "hard_low", "hard_high", "typical_error", "smallest_change")
MEASURE_FIELDS = (
    "label", "also", "family", "unit", "stated_in", "accepted_units", "better", "kind", "ratings",
    *FIGURES, "decimals", "bands", "trials", "summary", "keep", "summary_reason", "conditions",
    "rep_formula", "size_exponent", "protocol", "source", "minimum_age", "exported",
    "plain", "published",
)  # fmt: skip
BAND_FIELDS = ("sport", "ages", "range")

# Columns of a readings file that a condition of the same name would hide.
READING_COLUMNS = (
    "athlete", "measure", "measured_on", "measured_at", "value", "unit", "trial", "reps",
)  # fmt: skip

_KEY = re.compile(r"[a-z][a-z0-9_]*")
_CONDITION_VALUE = re.compile(r"[a-z0-9][a-z0-9 ./-]*")


def read_condition(entry: TomlEntry) -> Condition:
    """The condition of one table; raises CatalogueError naming the field that is wrong."""
    _check_key(entry)
    entry.check_fields(CONDITION_FIELDS)
    if entry.key in READING_COLUMNS:
        entry.refuse(
            "key",
            Fault("a column every readings file has", entry.key, "another name", "rename the condition"),
        )
    values = entry.texts("values", needed=True)
    for value in values:
        if not _CONDITION_VALUE.fullmatch(value) or value == NOT_STATED:
            fix = (
                "write it in lower case without ; or =" if value != NOT_STATED else "remove it: it is implied"
            )
            entry.refuse("values", Fault("not a plain word", value, "lower-case words and figures", fix))
    words = entry.text("words", "{}")
    if not re.fullmatch(r"[^{}]*\{\}[^{}]*", words):
        entry.refuse(
            "words",
            Fault("no place for the value", words, "a text with one {}", "write for example '{} bat'"),
        )
    return Condition(
        key=entry.key,
        label=entry.text("label"),
        values=values,
        must_match=entry.flag("must_match"),
        bridgeable=entry.flag("bridgeable", False),
        meaning=entry.text("meaning"),
        spellings=_spellings(entry, values),
        words=words,
        set_aside=_set_aside(entry, values),
    )


def _spellings(entry: TomlEntry, values: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    table = entry.table.get("spellings", {})
    if not isinstance(table, dict):
        entry.refuse("spellings", Fault("not a table", table, "a table", 'write { "other word" = "value" }'))
    for value in table.values():
        if value not in values:
            entry.refuse(
                "spellings",
                Fault("not a value of the condition", value, ", ".join(values), "use one of these"),
            )
    return tuple(table.items())


def _set_aside(entry: TomlEntry, values: tuple[str, ...]) -> tuple[str, ...]:
    given = entry.table.get("set_aside", [])
    listed = given if isinstance(given, list) else [given]
    for value in listed:
        if value not in values:
            entry.refuse(
                "set_aside",
                Fault("not a value of the condition", value, ", ".join(values), "use one of these"),
            )
    return tuple(listed)


def in_canonical_unit(entry: TomlEntry, unit: str, stated_in: str) -> dict[str, object]:
    """The entry's table with every figure turned from `stated_in` into the canonical `unit`.

    Figures of one file may so be written, and checked, in the unit the trade speaks.
    """
    table = {field: value for field, value in entry.table.items() if field != "stated_in"}
    if stated_in == unit:
        return table
    factor = linear(stated_in, unit)
    for field in FIGURES:
        if field in table:
            table[field] = entry.number(field) * factor
    if "bands" in table:
        table["bands"] = [
            {**band, "range": [edge * factor for edge in _pair(entry, band, "range")]}
            for band in entry.tables("bands")
        ]
    return table


def _pair(entry: TomlEntry, band: Mapping[str, object], field: str) -> tuple[float, float]:
    value = band.get(field)
    if not isinstance(value, list) or len(value) != 2:
        entry.refuse(
            f"bands.{field}", Fault("not a pair", value, "[low, high]", "write two numbers in brackets")
        )
    low, high = (entry.as_number(f"bands.{field}", edge) for edge in value)
    if not low < high:
        entry.refuse(
            f"bands.{field}", Fault("low is not below high", value, "[low, high]", "put the lower first")
        )
    return low, high


def read_measure(entry: TomlEntry, conditions: Mapping[str, Condition]) -> Measure:
    """The measure of one table whose figures are in the canonical unit; raises CatalogueError."""
    _check_key(entry)
    unit, accepted = _units(entry)
    kind = entry.choice("kind", KINDS, "number")
    ratings = _ratings(entry, kind)
    hard_low, hard_high = _limits(entry, kind, ratings)
    trials = entry.whole("trials", 1)
    summary = SummaryRule(entry.choice("summary", tuple(SummaryRule)))
    return Measure(
        key=entry.key,
        label=entry.text("label"),
        family=entry.choice("family", tuple(FAMILIES)),
        unit=unit,
        accepted_units=accepted,
        better=Better(entry.choice("better", tuple(Better))),
        kind=kind,
        ratings=ratings,
        resolution=_resolution(entry),
        decimals=entry.whole("decimals", 0),
        hard_low=hard_low,
        hard_high=hard_high,
        bands=_bands(entry, hard_low, hard_high),
        trials=trials,
        summary=summary,
        keep=_keep(entry, summary, trials),
        summary_reason=entry.text("summary_reason"),
        conditions=_conditions(entry, conditions),
        rep_formula=entry.choice("rep_formula", REP_FORMULAS, ""),
        typical_error=entry.optional_number("typical_error"),
        smallest_change=entry.optional_number("smallest_change"),
        protocol=entry.text("protocol"),
        plain=entry.text("plain", ""),
        source=entry.text("source"),
        published=entry.texts("published"),
        also=entry.texts("also"),
        minimum_age=entry.number("minimum_age", 0.0),
        size_exponent=entry.optional_number("size_exponent"),
        exported=entry.flag("exported", True),
    )


def _check_key(entry: TomlEntry) -> None:
    if not _KEY.fullmatch(entry.key):
        entry.refuse(
            "key", Fault("not a plain key", entry.key, "a-z, 0-9 and _", "start with a lower-case letter")
        )


def known_unit(entry: TomlEntry, field: str, default: str | None = None) -> str:
    """The unit symbol of a field; raises CatalogueError where it is not one of the known units."""
    return entry.choice(field, tuple(UNITS), default)


def _units(entry: TomlEntry) -> tuple[str, tuple[str, ...]]:
    unit = known_unit(entry, "unit")
    accepted = entry.texts("accepted_units", needed=True)
    same = tuple(other for other in UNITS if UNITS[other].quantity == UNITS[unit].quantity)
    for other in accepted:
        if other not in same:
            wrong = f"not a unit of {UNITS[unit].quantity}"
            entry.refuse("accepted_units", Fault(wrong, other, ", ".join(same), "use one of these symbols"))
    if unit not in accepted:
        entry.refuse(
            "accepted_units",
            Fault("the measure's own unit is missing", list(accepted), unit, f"add '{unit}'"),
        )
    return unit, accepted


def _ratings(entry: TomlEntry, kind: str) -> tuple[str, ...]:
    ratings = entry.texts("ratings", needed=kind == "rating")
    if kind == "number" and ratings:
        entry.refuse("ratings", Fault("given for a number", list(ratings), "kind = 'rating'", "set the kind"))
    if kind == "rating" and entry.text("unit") != "rating":
        entry.refuse(
            "unit", Fault("not the unit of a rating", entry.text("unit"), "rating", "write unit = 'rating'")
        )
    return ratings


def _resolution(entry: TomlEntry) -> float:
    value = entry.number("resolution")
    if value <= 0:
        entry.refuse(
            "resolution", Fault("not above zero", value, "a number above 0", "give the instrument's step")
        )
    return value


def _limits(entry: TomlEntry, kind: str, ratings: tuple[str, ...]) -> tuple[float, float]:
    if kind == "rating":
        for field in ("hard_low", "hard_high"):
            if entry.has(field):
                entry.refuse(
                    field, Fault("given for a rating", entry.table[field], "kind = 'number'", "remove it")
                )
        return 0.0, float(len(ratings) - 1)
    low, high = entry.number("hard_low"), entry.number("hard_high")
    if not low < high:
        entry.refuse(
            "hard_low", Fault("not below hard_high", low, f"a number below {high}", "correct either limit")
        )
    return low, high


def _bands(entry: TomlEntry, hard_low: float, hard_high: float) -> tuple[Band, ...]:
    bands: list[Band] = []
    for table in entry.tables("bands"):
        for field in table:
            if field not in BAND_FIELDS:
                entry.refuse(
                    f"bands.{field}", Fault("unknown field", field, ", ".join(BAND_FIELDS), "remove it")
                )
        sport = table.get("sport", "any")
        if not isinstance(sport, str) or sport not in SPORTS:
            entry.refuse(
                "bands.sport", Fault("not a known sport", sport, ", ".join(SPORTS), "use one of these")
            )
        age_low, age_high = _pair(entry, table, "ages")
        low, high = _pair(entry, table, "range")
        if low < hard_low or high > hard_high:
            limits = f"{hard_low:g} to {hard_high:g}"
            entry.refuse(
                "bands.range", Fault("outside the hard limits", [low, high], limits, "correct either")
            )
        if any(b.sport == sport and age_low < b.age_high and b.age_low < age_high for b in bands):
            entry.refuse(
                "bands.ages",
                Fault(f"overlap for {sport}", [age_low, age_high], "each age once", "split them"),
            )
        bands.append(Band(sport=sport, age_low=age_low, age_high=age_high, low=low, high=high))
    return tuple(bands)


def _keep(entry: TomlEntry, summary: SummaryRule, trials: int) -> int:
    if summary is not SummaryRule.MEAN_OF_BEST:
        if entry.has("keep"):
            entry.refuse(
                "keep",
                Fault(f"has no use with '{summary}'", entry.table["keep"], "mean of best", "remove it"),
            )
        return 1 if summary is SummaryRule.BEST else trials
    keep = entry.whole("keep", 1)
    if keep > trials:
        entry.refuse(
            "keep", Fault("more than the trials", keep, f"1 to {trials}", "lower it or raise trials")
        )
    return keep


def _conditions(entry: TomlEntry, conditions: Mapping[str, Condition]) -> tuple[Condition, ...]:
    keys = entry.texts("conditions")
    for key in keys:
        if key not in conditions:
            fix = f"declare [conditions.{key}] or use one of these"
            entry.refuse("conditions", Fault("not declared", key, ", ".join(conditions), fix))
    return tuple(conditions[key] for key in keys)
