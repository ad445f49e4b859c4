"""What stands before a typed value is saved: it can be read, its conditions are stated, and it fits its athlete."""

from __future__ import annotations

import math
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.lookup import decimals_in, find_value, line_of
from latewood.pipeline.catalogue.model import NOT_STATED, Measure
from latewood.pipeline.catalogue.units import UNITS, linear
from latewood.pipeline.errors import DecisionError, NothingPublishedError
from latewood.pipeline.ingest.logs import planlog
from latewood.pipeline.ingest.logs.typed_doubt import Allowance, MeasuredDay, ParsedValue, question
from latewood.pipeline.ingest.program import program_catalogue
from latewood.pipeline.warehouse.connection import open_published, read_sql


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedValue:
    """A value as it was typed and for whom; `conditions` as (key, word) pairs."""

    athlete_id: str
    measure: str
    on: date
    text: str
    unit: str
    conditions: tuple[tuple[str, str], ...]


def missing_conditions(measure: Measure, stated: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """The labels of the conditions without which a value of the measure can be compared with no other."""
    known = dict(stated)
    result = {c.label: find_value(c, known.get(c.key, "")) for c in measure.must_match}
    return tuple(label for label, word in result.items() if word in (None, NOT_STATED))


def doubt_about(root: Path, value: TypedValue, typed_before: Iterable[TypedValue]) -> str:
    """The question to ask before a typed value is saved; '' where it fits. `typed_before` may not be built yet.

    Raises DecisionError where the value cannot be saved at all.
    """
    measure = program_catalogue(root).measures.get(value.measure)
    if measure is None:
        raise DecisionError(f"measure {value.measure!r} is not in the catalogue; pick one that is")
    if value.unit not in measure.accepted_units:
        accepted = ", ".join(measure.accepted_units)
        raise DecisionError(f"unit {value.unit!r} is not accepted for {measure.label}; use one of {accepted}")
    missing = missing_conditions(measure, value.conditions)
    if missing:
        raise DecisionError(
            f"{measure.label}: not stated: {', '.join(missing)}; set it above the names first"
        )
    _check_possible(measure, value)
    days, stay_id, allowance = _history(root, measure, value, typed_before)
    hidden = measure.key == handles.BODY_MASS and value.athlete_id in planlog.hidden_masses(
        planlog.current_log(root)
    )
    return question(_typed(measure, value, stay_id), days, allowance, hidden=hidden)


def _check_possible(measure: Measure, value: TypedValue) -> None:
    factor = linear(measure.unit, value.unit)
    if not measure.hard_low <= _number(value) / factor <= measure.hard_high:
        low, high = (
            f"{end * factor:.{decimals_in(measure, value.unit)}f}"
            for end in (measure.hard_low, measure.hard_high)
        )
        shown = UNITS[value.unit].shown
        raise DecisionError(f"{value.text} {shown} is outside {low} to {high} {shown}; type it again")


def _number(value: TypedValue) -> float:
    try:
        number = float(value.text.replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise DecisionError(f"value {value.text!r} is not a number; type it again")
    return number


def _typed(measure: Measure, value: TypedValue, stay_id: str | None) -> ParsedValue:
    return ParsedValue(
        measure=measure, number=_number(value), text=value.text, unit=value.unit, on=value.on, stay_id=stay_id,
        line=line_of(measure, dict(value.conditions)),
    )  # fmt: skip


def _history(
    root: Path, measure: Measure, value: TypedValue, typed_before: Iterable[TypedValue]
) -> tuple[list[MeasuredDay], str | None, Allowance]:
    """The days before, the stay of the day and the allowance; of what was typed only where nothing is published."""
    given = {"athlete": value.athlete_id, "measure": measure.key, "on_date": value.on}
    try:
        with closing(open_published(root)) as connection:
            rows = connection.execute(read_sql("read/typed_history.sql"), given).fetchall()
            place = connection.execute(read_sql("read/typed_place.sql"), given).fetchone()
    except NothingPublishedError:
        rows, place = [], None
    stay_id, near, season = place or (None, None, None)
    built = [
        MeasuredDay(on=on, stay_id=stay, line=line, trials=tuple(trials), shown=shown)
        for on, stay, line, trials, shown in rows
    ]
    return (
        [*built, *_typed_days(measure, value, typed_before, {day.on for day in built}, stay_id)],
        stay_id,
        Allowance(near=near, season=season),
    )


def _typed_days(
    measure: Measure,
    value: TypedValue,
    typed_before: Iterable[TypedValue],
    built: set[date],
    stay_id: str | None,
) -> list[MeasuredDay]:
    result: dict[tuple[date, str], list[float]] = {}
    for one in typed_before:
        same = (one.athlete_id, one.measure) == (value.athlete_id, measure.key)
        if same and one.on < value.on and one.on not in built:
            canonical = _number(one) * linear(one.unit, measure.unit)
            result.setdefault((one.on, line_of(measure, dict(one.conditions))), []).append(canonical)
    return [
        MeasuredDay(
            on=on, stay_id=stay_id, line=line, trials=tuple(trials), shown=sorted(trials)[len(trials) // 2]
        )
        for (on, line), trials in result.items()
    ]
