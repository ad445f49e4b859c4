"""A station: the measure, the unit and the conditions that are set once, and what is saved there today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import streamlit as st

from latewood.dashboard.actions import plan_actions
from latewood.dashboard.reads import entry_reads
from latewood.dashboard.screens import parts
from latewood.dashboard.text.wording import Scale, field_label
from latewood.dashboard.views.weighin.typing import EntryMeasure, saved_by_athlete
from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Condition
from latewood.pipeline.catalogue.units import UNITS, display_decimals, display_unit, linear
from latewood.pipeline.ingest.logs.entered import Slot, TypedEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """What one run of a station works with: the scale, or one test."""

    opened: parts.Opened
    measure: EntryMeasure
    unit: str
    scale: Scale
    conditions: tuple[tuple[str, str], ...]
    line: str
    saved: Mapping[tuple[str, int], TypedEntry]  # by athlete and trial, as the run found them
    emptied: Mapping[Slot, int]
    who: str

    @property
    def trials(self) -> int:
        """How many fields an athlete has here; on the scale one."""
        return 1 if self.is_mass else max(1, self.measure.trials)

    @property
    def is_mass(self) -> bool:
        """Whether this is the scale."""
        return self.measure.measure == handles.BODY_MASS


def how_measured(opened: parts.Opened, measure: EntryMeasure) -> tuple[str, dict[str, str]]:
    """The unit and the conditions of the station, set once for all rows; they begin as the last camp's were."""
    key = measure.measure
    known = entry_reads.conditions(key)
    accepted = entry_reads.accepted_units(key)
    usual = entry_reads.usual_conditions(opened.build, key, opened.today)
    default = display_unit(measure.unit, parts.units())
    with st.container(key="weighin_station_how"):
        columns = st.columns(max(2, min(4, 1 + len(known))))
    with columns[0]:
        unit = st.selectbox(
            "Unit of the scale" if key == handles.BODY_MASS else "Unit",
            accepted,
            index=accepted.index(default) if default in accepted else 0,
            key=f"entry_unit_{key}_{parts.units()}",
        )
    chosen: dict[str, str] = {}
    for at, (name, condition) in enumerate(known.items(), start=1):
        with columns[at % len(columns)]:
            value = _condition(key, condition, usual.get(name))
        if value is not None:
            chosen[name] = value
    return unit, chosen


def _condition(measure: str, condition: Condition, usual: str | None) -> str | None:
    words = condition.values
    first = words.index(usual) if usual in words else 0 if measure == handles.BODY_MASS else None
    return st.selectbox(
        field_label(condition.label), words, index=first, key=f"entry_{measure}_{condition.key}",
        placeholder="set this first" if condition.must_match else "not stated",
    )  # fmt: skip


def station_now(
    opened: parts.Opened, measure: EntryMeasure, chosen: tuple[str, dict[str, str]], who: str
) -> Station:
    """The station with what is saved at it now."""
    unit, conditions = chosen
    factor = linear(measure.unit, unit)
    decimals = display_decimals(measure.resolution, measure.unit, measure.decimals, unit)
    line = entry_reads.line(measure.measure, conditions)
    return Station(
        saved=saved_by_athlete(entry_reads.entries(opened.build, measure.measure, line, opened.today)),
        emptied=plan_actions.times_emptied(opened.build, opened.today), line=line,
        opened=opened, measure=measure, unit=unit, conditions=tuple(conditions.items()), who=who,
        scale=Scale(unit=UNITS[unit].shown, factor=factor, decimals=decimals),
    )  # fmt: skip
