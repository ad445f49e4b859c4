"""One athlete at a time: a large field in the browser that keeps what is typed until it is in the log here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any, Final

import streamlit as st

from latewood.dashboard.actions import plan_actions
from latewood.dashboard.screens.parts import Opened
from latewood.dashboard.screens.weighin.station import Station
from latewood.dashboard.views.weighin.line import InLine, Sent, absence_text, sent_entries
from latewood.pipeline.errors import EntryDoubtError, LatewoodError
from latewood.pipeline.ingest.logs.entered import ABSENT, TypedEntry

KEY: Final = "weighin_pad"
SAVED, ASK, REFUSED = "saved", "ask", "refused"
HERE: Final = Path(__file__).parent


@cache
def _script() -> str:
    return (HERE / "pad.js").read_text(encoding="utf-8")


def sent_now() -> object:
    """What the browser sends with this run, before the pad is drawn."""
    state = st.session_state.get(KEY)
    return state.get("waiting") if isinstance(state, Mapping) else None


def take(opened: Opened, names: Mapping[str, str]) -> dict[str, dict[str, str]]:
    """Save what the browser sent; what became of each, by its own id: saved, a question or a refusal."""
    taken, refused = sent_entries(sent_now(), names, opened.today)
    answers = {key: {"kind": REFUSED, "text": text} for key, text in refused.items()}
    for key, one in taken.items():
        answers[key] = _take_one(opened, one)
    return answers


def _take_one(opened: Opened, sent: Sent) -> dict[str, str]:
    build, entry = opened.build, sent.entry
    viewer = build.viewer
    try:
        if viewer.signed_in and entry.by != viewer.name:
            return {"kind": REFUSED, "text": f"typed by {entry.by}, who has to be signed in to send it"}
        if plan_actions.sent_before(build, entry.athlete_id, entry.sent_id) is not None:
            return {"kind": SAVED, "text": ""}
        if entry.absent:
            plan_actions.note_absent(build, entry)
            return {"kind": SAVED, "text": ""}
        return _enter(opened, sent)
    except EntryDoubtError as doubt:
        return {"kind": ASK, "text": doubt.question}
    except (LatewoodError, OSError) as error:
        return {"kind": REFUSED, "text": str(error)}


def _enter(opened: Opened, sent: Sent) -> dict[str, str]:
    """Save a value; another one that the browser did not know of is only replaced with a yes."""
    build, entry = opened.build, sent.entry
    others = [
        one
        for one in plan_actions.entries(build, opened.today)
        if (one.athlete_id, one.measure, one.trial, one.conditions)
        == (entry.athlete_id, entry.measure, entry.trial, entry.conditions)
    ]
    for one in others:
        question = f"{one.by} saved another value for this at {one.at[11:16]}. Replace it?"
        if one.entry_id != sent.instead_of and question not in sent.answered:
            return {"kind": ASK, "text": question}
    try:
        plan_actions.enter(build, entry)
    except EntryDoubtError as doubt:
        if doubt.question not in sent.answered:
            raise
        plan_actions.enter(build, replace(entry, confirmed=doubt.question))
    for one in others:
        plan_actions.take_back(build, one, entry.by)
    return {"kind": SAVED, "text": ""}


def draw(station: Station, line: Sequence[InLine], answers: Mapping[str, Mapping[str, str]]) -> None:
    """The pad; no mass goes to the browser but what its own questions name."""
    data = {
        "line": [_place(one) for one in line],
        "measure": station.measure.measure,
        "label": ", ".join((station.measure.label, *(value for _, value in station.conditions))),
        "unit": station.unit,
        "shown": station.scale.unit,
        "decimals": station.scale.decimals,
        "trials": station.trials,
        "on": station.opened.today.isoformat(),
        "conditions": dict(station.conditions),
        "who": station.who,
        "reasons": ABSENT,
    }
    _mount(data, answers)


def draw_waiting(answers: Mapping[str, Mapping[str, str]]) -> None:
    """Only what still waits in this browser to be sent, and its questions."""
    _mount({"quiet": True, "line": [], "trials": 1, "conditions": {}, "who": ""}, answers)


def _mount(data: Mapping[str, Any], answers: Mapping[str, Mapping[str, str]]) -> None:
    run = datetime.now(UTC).isoformat()  # so that the script runs again at each answer
    component = st.components.v2.component(
        "latewood_pad", html='<div class="pad"></div>', css=_style(), js=_script()
    )
    component(
        key=KEY, data={**data, "answers": {key: dict(one) for key, one in answers.items()}, "run": run},
        on_waiting_change=lambda: None, height="content",
    )  # fmt: skip


@cache
def _style() -> str:
    return (HERE / "pad.css").read_text(encoding="utf-8")


def _place(one: InLine) -> dict[str, Any]:
    return {
        "id": one.athlete_id,
        "name": one.name,
        "saved": {str(trial): _known(entry) for trial, entry in one.saved.items()},
        "absent": "" if one.absent is None else absence_text(one.absent),
    }


def _known(entry: TypedEntry) -> dict[str, str]:
    return {"id": entry.entry_id, "at": entry.at[11:16]}
