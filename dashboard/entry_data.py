"""Reads for the entry screens: measures with their limits, last values, conditions, what was typed lately."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta

from dashboard import data, plan_actions, rows
from dashboard.views.typing import EntryMeasure, LastValue, with_typed
from pipeline.catalogue.units import linear
from pipeline.ingest.entered import Entry
from pipeline.ingest.program import data_dir, program_catalogue

LOOK_BACK_DAYS = 7


def measures(build: rows.Build) -> dict[str, EntryMeasure]:
    """Every measure that can be typed, by key."""
    return {one.measure: one for one in data.read_rows(build, "entry_measures", EntryMeasure)}


def conditions(measure: str) -> dict[str, tuple[str, tuple[str, ...]]]:
    """The conditions of a measure: key to label and the accepted words, where they are listed."""
    found = program_catalogue(data_dir()).measures[measure].conditions
    return {one.key: (one.label, tuple(one.values)) for one in found if one.values}


def accepted_units(measure: str) -> tuple[str, ...]:
    """The units in which a measure may be typed."""
    return tuple(program_catalogue(data_dir()).measures[measure].accepted_units)


def last_values(build: rows.Build, measure: EntryMeasure, today: date) -> Mapping[str, LastValue]:
    """The latest value of every athlete before today, with what was typed on the days before and is not built."""
    built = data.read_rows(build, "last_values", LastValue, measure=measure.measure)
    days = [today - timedelta(days=back) for back in range(LOOK_BACK_DAYS, 0, -1)]
    typed: list[tuple[date, Entry]] = [
        (on, one) for on in days for one in plan_actions.entries(build, on) if one.measure == measure.measure
    ]
    factors = {unit: linear(unit, measure.unit) for unit in accepted_units(measure.measure)}
    return with_typed({one.athlete_id: one for one in built}, typed, factors)
