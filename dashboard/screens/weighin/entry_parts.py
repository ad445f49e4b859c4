"""Rows of an entry screen: name, large fields, last value, what is saved, and the question where a value is odd."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from latewood.dashboard.actions import plan_actions, steward_actions
from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.reads import entry_reads
from latewood.dashboard.screens import parts, provisional_part
from latewood.dashboard.text.wording import Scale, day, field_label, joined, verbatim
from latewood.dashboard.views.weighin.typing import (
    EntryMeasure,
    LastValue,
    present,
    progress_text,
    saved_by_athlete,
)
from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.model import Condition
from latewood.pipeline.catalogue.units import UNITS, display_decimals, display_unit, linear
from latewood.pipeline.errors import EntryDoubtError, LatewoodError
from latewood.pipeline.ingest.logs.entered import Slot, TypedEntry
from latewood.pipeline.ingest.logs.planlog import hidden_masses

LOST = (
    '<p class="lw-lost" role="alert">The connection is lost. What is typed now is not saved. Rows that say Saved are '
    "safe; type the others again when this line is gone.</p>"
)
PER_LINE = 5
BUILT = "weighin_built"
UNSAVED = '<p class="lw-unsaved">not saved</p>'


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedField:
    """What stands in one field; `key` is the field's, `below` the place for questions about it."""

    athlete: str
    trial: int
    text: str
    key: str
    below: DeltaGenerator
    alone: bool

    def ask(self, text: str) -> None:
        """Say what speaks against saving."""
        which = "" if self.alone else f"Trial {self.trial}: "
        self.below.html(f'<p class="lw-ask" role="alert">{safe(f"{which}{text}")}</p>')


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPlace:
    """Where the field of one trial stands, where it says what became of it, and where it asks."""

    trial: int
    field: DeltaGenerator
    says: DeltaGenerator
    below: DeltaGenerator
    alone: bool  # the only trial of its row


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """What one run of the rows works with."""

    opened: parts.Opened
    measure: EntryMeasure
    unit: str
    scale: Scale
    conditions: tuple[tuple[str, str], ...]
    line: str
    saved: Mapping[tuple[str, int], TypedEntry]  # by athlete and trial, as the run found them
    emptied: Mapping[Slot, int]
    who: str


def preset(opened: parts.Opened, measure: EntryMeasure) -> tuple[str, dict[str, str]]:
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


@parts.fragment
def rows(
    opened: parts.Opened, camp: str, measure: EntryMeasure, chosen: tuple[str, dict[str, str]], who: str
) -> None:
    """Every athlete at the camp today, and where saved values are; only this runs again when a value is typed."""
    above = st.container()  # in sight, and filled once this run has saved
    missing = entry_reads.missing(measure.measure, chosen[1])
    if missing:
        parts.words(
            f"Set first, above: {joined([one.lower() for one in missing])}. "
            "A value without them can be compared with no other."
        )
    else:
        _all_rows(_station(opened, measure, chosen, who), present(opened.lookup, camp, opened.today))
    with above:
        provisional_part.after_weighin(opened)
    build_part(opened)


def _station(
    opened: parts.Opened, measure: EntryMeasure, chosen: tuple[str, dict[str, str]], who: str
) -> Station:
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


def _all_rows(station: Station, names: Mapping[str, str]) -> None:
    opened, key = station.opened, station.measure.measure
    last = entry_reads.last_values(opened.build, station.measure, station.line, opened.today)
    hidden = hidden_masses(plan_actions.plan_log(opened.build, "entry"))
    head = st.empty()
    with st.container(key="weighin_rows"):
        for athlete, name in names.items():
            _row(station, athlete, name, last.get(athlete), hidden=athlete in hidden)
    # with what this run saved itself
    saved = saved_by_athlete(entry_reads.entries(opened.build, key, station.line, opened.today))
    done = len({athlete for athlete, _ in saved} & set(names))
    head.html(f'<p class="lw-head">{safe(progress_text(done, len(names)))}</p>')


def _row(station: Station, athlete: str, name: str, last: LastValue | None, *, hidden: bool) -> None:
    n_trials = 1 if station.measure.measure == handles.BODY_MASS else max(1, station.measure.trials)
    with st.container(border=True):
        who = f'<p class="lw-who">{safe(name)}</p>{_last_text(station, last, hidden=hidden)}'
        if n_trials == 1:  # name, field and what became of it in one line of columns: nested ones draw slowly
            left, place, says = st.columns([6, 5, 5], vertical_alignment="center")
            words = _field(
                station, athlete, name, TrialPlace(trial=1, field=place, says=says, below=says, alone=True)
            )
            left.html(who if words else who + UNSAVED)
            return
        left, right = st.columns([2, 6], vertical_alignment="center")
        left.html(who)
        fields = right.container(key=f"entry_trials_{athlete}")
        for first in range(1, n_trials + 1, PER_LINE):
            trials = range(first, min(first + PER_LINE, n_trials + 1))
            places = fields.columns(len(trials))
            below = fields.container()  # a question is as wide as the row: a column of one trial is narrow
            for place, trial in zip(places, trials, strict=True):
                at = TrialPlace(trial=trial, field=place, says=place, below=below, alone=False)
                if not _field(station, athlete, name, at):
                    place.html(UNSAVED)


def _last_text(station: Station, last: LastValue | None, *, hidden: bool) -> str:
    if hidden and station.measure.measure == handles.BODY_MASS:
        return '<p class="lw-small">last value hidden at the athlete\'s wish</p>'
    if last is None:
        return '<p class="lw-small">no earlier value</p>'
    when = "today, in the records already" if last.held_on == station.opened.today else day(last.held_on)
    return f'<p class="lw-small">last {safe(station.scale.text(last.value))}, {when}</p>'


def _field(station: Station, athlete: str, name: str, at: TrialPlace) -> bool:
    """One number field and beside it what became of it: saved at once, or asked about; whether there was anything."""
    measure, on = station.measure.measure, station.opened.today
    # A page keeps what is in a field whose key stays: an undo, here or on another tablet, makes it another field.
    turn = station.emptied.get((athlete, measure, at.trial), 0)
    key = f"entry_{on}_{measure}_{station.line}_{station.unit}_{athlete}_{at.trial}_{turn}"
    label = f"{name}, {station.scale.unit}" if at.alone else f"{name}, trial {at.trial}, {station.scale.unit}"
    typed = at.field.number_input(
        field_label(label), value=None, format=f"%.{station.scale.decimals}f", step=10.0**-station.scale.decimals,
        placeholder=station.scale.unit, key=key, label_visibility="collapsed",
    )  # fmt: skip
    text = "" if typed is None else f"{typed:.{station.scale.decimals}f}"
    with at.says:
        return _settle(
            station,
            TypedField(athlete=athlete, trial=at.trial, text=text, key=key, below=at.below, alone=at.alone),
        )


def _settle(station: Station, typed: TypedField) -> bool:
    """Say that a value is saved or in doubt; save it where nothing speaks against it. False where none was typed."""
    old = station.saved.get((typed.athlete, typed.trial))
    settled = f"{typed.key}_settled"  # what of this field was saved before: another tablet may have corrected it since
    if not typed.text:
        st.session_state.pop(settled, None)
    same = old is not None and (
        not typed.text
        or st.session_state.get(settled) == typed.text
        or (old.value == typed.text and old.unit == station.unit)
    )
    if old is not None and same:
        _saved(station, old, typed.key)
    elif not typed.text:
        return False
    elif not station.who:
        st.html('<p class="lw-ask">Not saved: write your name above.</p>')
    else:
        made = _save(station, typed, old)
        if made is not None:
            st.session_state[settled] = typed.text
            _saved(station, made, typed.key)
    return True


def _save(station: Station, typed: TypedField, old: TypedEntry | None) -> TypedEntry | None:
    """The entry as saved; None, with what is asked or why not on the screen."""
    try:
        try:
            made = _enter(station, typed, "")
        except EntryDoubtError as doubt:
            typed.ask(f"Not saved yet: {doubt.question}")
            if not typed.below.button("It is right, save it", key=f"{typed.key}_yes_{typed.text}"):
                return None
            made = _enter(station, typed, doubt.question)
        if old is not None:
            plan_actions.take_back(station.opened.build, old, station.who)
    except (LatewoodError, OSError) as error:
        typed.ask(f"Not saved: {error}")
        return None
    return made


def _enter(station: Station, typed: TypedField, confirmed: str) -> TypedEntry:
    entry = TypedEntry(
        entry_id="", at="", by=station.who, athlete_id=typed.athlete, measure=station.measure.measure,
        measured_on=station.opened.today.isoformat(), value=typed.text, unit=station.unit, trial=typed.trial,
        conditions=dict(station.conditions), confirmed=confirmed,
    )  # fmt: skip
    return plan_actions.enter(station.opened.build, entry)


def _saved(station: Station, entry: TypedEntry, key: str) -> None:
    clock = entry.at[11:16]
    st.html(f'<p class="lw-saved">Saved {safe(entry.value)} {safe(entry.unit)}, {safe(clock)}</p>')
    refused = f"{key}_refused"

    def undo() -> None:
        try:
            plan_actions.take_back(station.opened.build, entry, station.who or entry.by)
        except (LatewoodError, OSError) as error:
            st.session_state[refused] = str(error)

    # As a callback, before the rows are drawn: within the run the field would still be the old one.
    st.button("Undo", key=f"{key}_undo_{entry.entry_id}", on_click=undo)
    if refused in st.session_state:
        words = str(st.session_state.pop(refused))
        st.html(f'<p class="lw-ask" role="alert">Not taken back: {safe(words)}</p>')


def build_part(opened: parts.Opened) -> None:
    """Where saved values are until the next build, and the button that builds."""
    words = st.session_state.pop(BUILT, "")
    if words:
        st.success(verbatim(words))
    if not steward_actions.is_behind(opened.build.viewer, opened.build):
        parts.words("Everything saved is on the screens.")
        return
    parts.words(
        f"Saved values are safe on the disk; they are on the screens after the next build "
        f"(the last one took {opened.build.seconds:.0f} s)."
    )
    if st.button("Build now", key="weighin_build"):
        with st.status("Building. Entering can go on meanwhile on another device.") as status:
            try:
                st.session_state[BUILT] = steward_actions.rebuild(
                    opened.build.viewer, lambda step: status.update(label=verbatim(f"Building: {step}"))
                )
            except LatewoodError as error:
                st.error(verbatim(str(error)))
                return
        st.rerun()  # the whole page: it works on the build that was just published
