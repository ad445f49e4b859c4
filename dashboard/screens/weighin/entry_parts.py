"""Rows of an entry screen: name, large fields, last value, what is saved, and the question where a value is odd."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from latewood.dashboard.actions import plan_actions, steward_actions
from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.reads import entry_reads
from latewood.dashboard.screens import parts, provisional_part
from latewood.dashboard.screens.weighin.station import Station, station_now
from latewood.dashboard.text.wording import day, field_label, verbatim
from latewood.dashboard.views.weighin.line import InLine, absence_text, standings, tally_text
from latewood.dashboard.views.weighin.typing import EntryMeasure, LastValue, present, saved_by_athlete
from latewood.pipeline.errors import EntryDoubtError, LatewoodError
from latewood.pipeline.ingest.logs.entered import ABSENT, TypedEntry
from latewood.pipeline.ingest.logs.planlog import hidden_masses

LOST = (
    '<p class="lw-lost" role="alert">The connection is lost. What is typed one at a time is kept in this browser and '
    "sent later. In the list of all only rows marked Saved are safe; type the others again when this line is gone.</p>"
)
PER_LINE = 5
BUILT = "weighin_built"
BEFORE = "weighin_before"
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


@parts.fragment
def rows(
    opened: parts.Opened, camp: str, measure: EntryMeasure, chosen: tuple[str, dict[str, str]], who: str
) -> None:
    """Every athlete at the camp today, and where saved values are; only this runs again when a value is typed."""
    _all_rows(station_now(opened, measure, chosen, who), present(opened.lookup, camp, opened.today))
    build_part(opened)


def line_of_station(station: Station, names: Mapping[str, str]) -> tuple[InLine, ...]:
    """Where each athlete stands at a station, with what this run saved."""
    opened, key = station.opened, station.measure.measure
    saved = saved_by_athlete(entry_reads.entries(opened.build, key, station.line, opened.today))
    return standings(names, saved, plan_actions.absences(opened.build, opened.today), key)


def _all_rows(station: Station, names: Mapping[str, str]) -> None:
    """Those to come with their fields; who was saved before the list was opened is one line, opened on demand."""
    opened = station.opened
    last = entry_reads.last_values(opened.build, station.measure, station.line, opened.today)
    hidden = hidden_masses(plan_actions.plan_log(opened.build, "entry"))
    line = line_of_station(station, names)
    kept = f"{BEFORE}_{opened.today}_{station.measure.measure}_{station.line}"
    before = st.session_state.setdefault(kept, frozenset(one.athlete_id for one in line if one.saved))
    head = st.empty()

    def draw(one: InLine) -> None:
        _row(station, one.athlete_id, one.name, last.get(one.athlete_id), hidden=one.athlete_id in hidden)

    with st.container(key="weighin_rows"):
        _done_part(station, [one for one in line if one.athlete_id in before], draw)
        _cannot_part(station, line)
        to_come = [one for one in line if one.athlete_id not in before and (one.saved or one.absent is None)]
        parts.in_portions(to_come, draw, f"weighin_line_{opened.today}_{station.measure.measure}", "athletes")
    head.html(f'<p class="lw-head">{safe(tally_text(line_of_station(station, names)))}</p>')


def _done_part(station: Station, done: Sequence[InLine], draw: Callable[[InLine], None]) -> None:
    """Who was saved before, as one line."""

    def draw_all() -> None:
        for one in done:
            draw(one)

    if done:
        what = "weighed" if station.is_mass else "tested"
        key = f"weighin_done_{station.measure.measure}"
        parts.on_opening(f"{len(done)} {what} today", key, draw_all)


def _cannot_part(station: Station, line: Sequence[InLine]) -> None:
    """Who cannot be measured today, with one reason of the short list, and the form that notes it."""
    absent = [one for one in line if one.absent is not None and not one.saved]
    label = f"Cannot test today: {len(absent)}" if absent else "Somebody cannot test today"
    parts.on_opening(
        label, f"weighin_cannot_{station.measure.measure}", lambda: _cannot(station, line, absent)
    )


def _cannot(station: Station, line: Sequence[InLine], absent: Sequence[InLine]) -> None:
    for one in absent:
        note = one.absent
        if note is not None:
            left, right = st.columns([3, 1], vertical_alignment="center")
            left.html(f'<p class="lw-head">{safe(one.name)}: {safe(absence_text(note))}</p>')
            right.button(
                "Can test after all", key=f"weighin_can_{note.entry_id}",
                on_click=_can_again, args=(station, note),
            )  # fmt: skip
    names = {one.athlete_id: one.name for one in line if not one.is_over}
    key = f"weighin_absent_{station.measure.measure}"
    left, middle, right = st.columns([3, 2, 1], vertical_alignment="bottom")
    with left:
        who = parts.pick("Who cannot", list(names), None, parts.named(names), key=f"{key}_who")
    why = middle.selectbox(
        "Why",
        list(ABSENT),
        index=None,
        format_func=parts.named(ABSENT),
        placeholder="one reason",
        key=f"{key}_why",
    )
    note_it = right.button("Note it", key=f"{key}_note", disabled=not (who and why and station.who))
    parts.words(
        "Only one of these reasons is kept, with the day and your name. Nothing medical belongs here.",
        "lw-small",
    )
    if note_it and who and why:
        entry = TypedEntry(
            entry_id="", at="", by=station.who, athlete_id=who, measure=station.measure.measure,
            measured_on=station.opened.today.isoformat(), conditions=dict(station.conditions), absent=why,
        )  # fmt: skip
        if _try(lambda: plan_actions.note_absent(station.opened.build, entry)):
            st.rerun(scope="fragment")


def _can_again(station: Station, note: TypedEntry) -> None:
    _try(lambda: plan_actions.take_back(station.opened.build, note, station.who or note.by))


def _try(act: Callable[[], object]) -> bool:
    """Do it, or say why not."""
    try:
        act()
    except (LatewoodError, OSError) as error:
        st.html(f'<p class="lw-ask" role="alert">Not noted: {safe(str(error))}</p>')
        return False
    return True


def _row(station: Station, athlete: str, name: str, last: LastValue | None, *, hidden: bool) -> None:
    n_trials = station.trials
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
    if station.is_mass:  # whoever is at the scale reads along; a value far from the last one is asked about
        return '<p class="lw-small">mass hidden at the athlete\'s wish</p>' if hidden else ""
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
    provisional_part.after_weighin(opened)
    words = st.session_state.pop(BUILT, "")
    if words:
        st.success(verbatim(words))
    if not steward_actions.is_behind(opened.build.viewer, opened.build):
        parts.words("Everything saved is on the screens.")
        return
    parts.words(
        "Saved values are safe on the disk. Weight trends and plans show them at once, marked provisional; all other "
        f"results follow with the next build (the last one took {opened.build.seconds:.0f} s)."
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
