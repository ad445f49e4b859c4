"""Reads for the entry screens: measures with their limits, last values, conditions, what was typed lately."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from latewood.dashboard.actions import plan_actions
from latewood.dashboard.reads import rows
from latewood.dashboard.reads.read import Read
from latewood.dashboard.views.weighin import typing as views
from latewood.dashboard.views.weighin.typing import EntryMeasure, LastValue, with_typed
from latewood.pipeline.catalogue.lookup import line_of
from latewood.pipeline.catalogue.model import Condition
from latewood.pipeline.catalogue.units import linear
from latewood.pipeline.ingest.logs.entered import LOOK_BACK_DAYS, TypedEntry
from latewood.pipeline.ingest.logs.typed_check import missing_conditions
from latewood.pipeline.ingest.program import data_dir, program_catalogue


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedConditions:
    """One set of conditions (JSON) and how many of the last camp's values were taken under it."""

    conditions: str
    n: int


_entry_measures = Read(
    row=EntryMeasure, kind="program", table="measure", where="kind = 'number'", order="position"
)
_entry_conditions = Read(row=CountedConditions, kind="entry", by=("measure",), query="entry_conditions")
_last_values = Read(row=LastValue, kind="entry", by=("measure", "line"), query="last_values")


def measures(build: rows.Build) -> dict[str, EntryMeasure]:
    """Every measure that can be typed, by key."""
    return {one.measure: one for one in _entry_measures(build)}


def conditions(measure: str) -> dict[str, Condition]:
    """The conditions of a measure whose words are listed, by key."""
    return {one.key: one for one in program_catalogue(data_dir()).measures[measure].conditions if one.values}


def usual_conditions(build: rows.Build, measure: str, today: date) -> dict[str, str]:
    """The words to begin with: those typed last today, else those of nearly all of the last camp's values."""
    typed = [one for one in plan_actions.entries(build, today) if one.measure == measure and one.conditions]
    if typed:
        return dict(typed[-1].conditions)
    counted = _entry_conditions(build, measure)
    known = {key: one.values for key, one in conditions(measure).items()}
    return views.usual_conditions(known, [(json.loads(one.conditions), one.n) for one in counted])


def missing(measure: str, stated: Mapping[str, str]) -> tuple[str, ...]:
    """The labels of the conditions without which no value is taken."""
    return missing_conditions(program_catalogue(data_dir()).measures[measure], stated.items())


def line(measure: str, stated: Mapping[str, str]) -> str:
    """The line that values taken under these conditions stand in."""
    return line_of(program_catalogue(data_dir()).measures[measure], stated)


def accepted_units(measure: str) -> tuple[str, ...]:
    """The units in which a measure may be typed."""
    return tuple(program_catalogue(data_dir()).measures[measure].accepted_units)


def entries(build: rows.Build, measure: str, on_line: str, day: date) -> tuple[TypedEntry, ...]:
    """What was typed on a day in one measure, taken in one way, and stands."""
    return tuple(
        one
        for one in plan_actions.entries(build, day)
        if one.measure == measure and line(measure, one.conditions) == on_line
    )


def last_values(
    build: rows.Build, measure: EntryMeasure, on_line: str, today: date
) -> Mapping[str, LastValue]:
    """The latest value of every athlete before today, with what was typed on the days before and is not built.

    A value taken in the way of `on_line` goes before later ones taken otherwise.
    """
    key = measure.measure
    built = _last_values(build, key, on_line)
    days = [today - timedelta(days=back) for back in range(LOOK_BACK_DAYS, 0, -1)]
    typed = [(on, one) for on in days for one in entries(build, key, on_line, on)]
    factors = {unit: linear(unit, measure.unit) for unit in accepted_units(key)}
    return with_typed({one.athlete_id: one for one in built}, typed, factors)
