"""Rows of an entry screen: name, large fields, last value, what is saved, and the question where a value is odd."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard import actions, entry_data, plan_actions
from dashboard.charts.drawing import safe
from dashboard.screens import parts
from dashboard.views.typing import (
    Doubt,
    EntryMeasure,
    LastValue,
    mass_doubt,
    present,
    progress_text,
    saved_by_athlete,
    value_doubt,
)
from dashboard.wording import Scale, day
from pipeline.catalogue import handles
from pipeline.catalogue.units import UNITS, display_decimals, display_unit, linear
from pipeline.errors import LatewoodError
from pipeline.ingest.entered import Entry
from pipeline.ingest.planlog import hidden_masses

LOST = (
    '<p class="lw-lost" role="alert">The connection is lost. What is typed now is not saved. Rows that say Saved are '
    "safe; type the others again when this line is gone.</p>"
)
PER_LINE = 5
UNSAVED = '<p class="lw-unsaved">not saved</p>'


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """What one run of the rows works with."""

    opened: parts.Opened
    measure: EntryMeasure
    unit: str
    scale: Scale
    conditions: tuple[tuple[str, str], ...]
    saved: Mapping[tuple[str, int], Entry]  # by athlete and trial, as the run found them
    who: str


def preset(key: str, measure: EntryMeasure) -> tuple[str, dict[str, str]]:
    """The unit and the conditions of the station, set once for all rows."""
    known = entry_data.conditions(key)
    accepted = entry_data.accepted_units(key)
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
    for at, (name, (label, words)) in enumerate(known.items(), start=1):
        with columns[at % len(columns)]:
            first = 0 if key == handles.BODY_MASS else None
            value = st.selectbox(
                label, words, index=first, key=f"entry_{key}_{name}", placeholder="not stated"
            )
        if value is not None:
            chosen[name] = value
    return unit, chosen


@parts.fragment
def rows(
    opened: parts.Opened, camp: str, measure: EntryMeasure, chosen: tuple[str, dict[str, str]], who: str
) -> None:
    """Every athlete at the camp today; only these rows run again when a value is typed."""
    unit, conditions = chosen
    factor = linear(measure.unit, unit)
    decimals = display_decimals(measure.resolution, measure.unit, measure.decimals, unit)
    key = measure.measure
    station = Station(
        saved=saved_by_athlete(plan_actions.entries(opened.build, opened.today), key),
        opened=opened, measure=measure, unit=unit, conditions=tuple(conditions.items()), who=who,
        scale=Scale(unit=UNITS[unit].shown, factor=factor, decimals=decimals),
    )  # fmt: skip
    names = present(opened.lookup, camp, opened.today)
    last = entry_data.last_values(opened.build, measure, opened.today)
    hidden = hidden_masses(plan_actions.plan_log(opened.build, "entry"))
    head = st.empty()
    with st.container(key="weighin_rows"):
        for athlete, name in names.items():
            shown = last.get(athlete)
            _row(station, athlete, name, shown, hidden=athlete in hidden)
    saved = saved_by_athlete(plan_actions.entries(opened.build, opened.today), key)  # with this run's own
    done = len({athlete for athlete, _ in saved} & set(names))
    head.html(f'<p class="lw-head">{safe(progress_text(done, len(names)))}</p>')


def _row(station: Station, athlete: str, name: str, last: LastValue | None, *, hidden: bool) -> None:
    n_trials = 1 if station.measure.measure == handles.BODY_MASS else max(1, station.measure.trials)
    with st.container(border=True):
        who = f'<p class="lw-who">{safe(name)}</p>{_last_text(station, last, hidden=hidden)}'
        if n_trials == 1:  # name, field and what became of it in one line of columns: nested ones draw slowly
            left, place, says = st.columns([6, 5, 5], vertical_alignment="center")
            said = _field(station, athlete, name, 1, last, (place, says), alone=True)
            left.html(who if said else who + UNSAVED)
            return
        left, right = st.columns([2, 6], vertical_alignment="center")
        left.html(who)
        fields = right.container(key=f"entry_trials_{athlete}")
        for first in range(1, n_trials + 1, PER_LINE):
            trials = range(first, min(first + PER_LINE, n_trials + 1))
            places = fields.columns(len(trials))
            for place, trial in zip(places, trials, strict=True):
                if not _field(station, athlete, name, trial, last, (place, place), alone=False):
                    place.html(UNSAVED)


def _last_text(station: Station, last: LastValue | None, *, hidden: bool) -> str:
    if hidden and station.measure.measure == handles.BODY_MASS:
        return '<p class="lw-small">last value hidden at the athlete\'s wish</p>'
    if last is None:
        return '<p class="lw-small">no earlier value</p>'
    when = "today, in the records already" if last.held_on == station.opened.today else day(last.held_on)
    return f'<p class="lw-small">last {safe(station.scale.text(last.value))}, {when}</p>'


def _field(
    station: Station,
    athlete: str,
    name: str,
    trial: int,
    last: LastValue | None,
    places: tuple[DeltaGenerator, DeltaGenerator],
    *,
    alone: bool,
) -> bool:
    """One number field and beside it what became of it: saved at once, or asked about; whether there was anything."""
    on = station.opened.today
    key = f"entry_{on}_{station.measure.measure}_{station.unit}_{athlete}_{trial}"
    old = station.saved.get((athlete, trial))
    label = f"{name}, {station.scale.unit}" if alone else f"{name}, trial {trial}, {station.scale.unit}"
    place, says = places
    typed = place.number_input(
        label, value=None, format=f"%.{station.scale.decimals}f", step=10.0**-station.scale.decimals,
        placeholder=station.scale.unit, key=key, label_visibility="collapsed",
    )  # fmt: skip
    text = "" if typed is None else f"{typed:.{station.scale.decimals}f}"
    with says:
        return _settle(station, athlete, trial, text, old, last, key)


def _settle(
    station: Station, athlete: str, trial: int, text: str, old: Entry | None, last: LastValue | None, key: str
) -> bool:
    """Say that a value is saved or in doubt; save it where nothing speaks against it. False where none was typed."""
    if old is not None and (not text or (old.value == text and old.unit == station.unit)):
        _saved(station, old, key)
    elif not text:
        return False
    elif not station.who:
        st.html('<p class="lw-ask">Not saved: write your name above.</p>')
    else:
        _check_and_save(station, athlete, trial, text, old, last, key)
    return True


def _check_and_save(
    station: Station,
    athlete: str,
    trial: int,
    text: str,
    old: Entry | None,
    last: LastValue | None,
    key: str,
) -> None:
    on = station.opened.today
    doubt = _doubt(station, float(text) / station.scale.factor, last)
    if doubt is not None:
        st.html(f'<p class="lw-ask" role="alert">{safe(doubt.text)}</p>')
        if not doubt.may_save or not st.button("It is right, save it", key=f"{key}_yes_{text}"):
            return
    try:
        made = plan_actions.enter(
            station.opened.build, station.who, athlete, station.measure.measure, on, text, station.unit, trial=trial,
            conditions=dict(station.conditions), confirmed=doubt.text if doubt else "",
        )  # fmt: skip
        if old is not None:
            plan_actions.take_back(station.opened.build, old, station.who)
    except (LatewoodError, OSError) as error:
        st.html(f'<p class="lw-ask" role="alert">Not saved: {safe(str(error))}</p>')
        return
    _saved(station, made, key)


def _doubt(station: Station, value: float, last: LastValue | None) -> Doubt | None:
    if station.measure.measure == handles.BODY_MASS:
        return mass_doubt(value, last, station.opened.today, station.measure, station.scale)
    return value_doubt(value, last, station.measure, station.scale)


def _saved(station: Station, entry: Entry, key: str) -> None:
    clock = entry.at[11:16]
    st.html(f'<p class="lw-saved">Saved {safe(entry.value)} {safe(entry.unit)}, {clock}</p>')
    if st.button("Undo", key=f"{key}_undo_{entry.entry_id}"):
        plan_actions.take_back(station.opened.build, entry, station.who or entry.by)
        st.session_state.pop(key, None)
        st.rerun(scope="fragment")


def build_part(opened: parts.Opened) -> None:
    """Where saved values are until the next build, and the button that builds."""
    if not actions.is_behind(opened.build.viewer, opened.build):
        parts.words("Everything saved is on the screens.")
        return
    parts.words(
        f"Saved values are safe on the disk; they are on the screens after the next build "
        f"(the last one took {opened.build.seconds:.0f} s)."
    )
    if st.button("Build now", key="weighin_build"):
        with st.status("Building. Entering can go on meanwhile on another device.") as status:
            try:
                said = actions.rebuild(
                    opened.build.viewer, lambda step: status.update(label=f"Building: {step}")
                )
            except LatewoodError as error:
                st.error(str(error))
                return
        st.success(said)
