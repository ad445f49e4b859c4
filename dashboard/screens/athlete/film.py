"""The film of one trial beside its trace: played where the file lies on this machine, otherwise named in text."""

from __future__ import annotations

from datetime import date

import streamlit as st

from latewood.dashboard.actions import video_actions
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.who import ask_who
from latewood.dashboard.text.wording import full_day, verbatim
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.logs.videos import FOLDER, LONGEST, TEXT_LENGTH, NewVideo, VideoNote

CAUTION = (
    "Film only where athlete and guardian agreed to pictures. The tool keeps the name; the film stays where it is, "
    "and no page that leaves has it."
)
NOT_HERE = f"Not a film in the folder “{FOLDER}” of the data folder, so it is only named here."


def film(opened: parts.Opened, athlete_id: str, on: date, trial: int) -> None:
    """The film of this trial, and for a coach the form that names one."""
    note = video_actions.noted(opened.build, athlete_id).get((on, trial))
    if note is not None:
        _play(opened, athlete_id, note)
    if opened.build.viewer.holds("note video"):
        label = "Name another film" if note is not None else "Name the film of this trial"
        key = f"film_{athlete_id}_{on}_{trial}"
        parts.on_opening(label, f"{key}_open", lambda: _form(opened, athlete_id, on, trial))


def _play(opened: parts.Opened, athlete_id: str, note: VideoNote) -> None:
    parts.words(f"Film: {note.text}, from {note.seconds:g} s ({note.by}, {full_day(note.on)})", "lw-small")
    place, refused = video_actions.opened(opened.build, note, athlete_id)
    if place is None:
        parts.words(refused or NOT_HERE, "lw-small")
        return
    st.video(str(place), start_time=int(note.seconds))  # whole seconds are all it takes


def _form(opened: parts.Opened, athlete_id: str, on: date, trial: int) -> None:
    parts.caution(CAUTION)
    key = f"film_{athlete_id}_{on}_{trial}"
    with st.form(f"{key}_form"):
        text = st.text_input(
            "File name or address; empty takes it back", max_chars=TEXT_LENGTH, key=f"{key}_text"
        )
        seconds = st.number_input("Seconds into the film", 0.0, LONGEST, 0.0, 0.1, key=f"{key}_seconds")
        who = ask_who(f"{key}_who")
        if not st.form_submit_button("Note it", type="primary"):
            return
    try:
        draft = NewVideo(athlete_id=athlete_id, measured_on=on, trial=trial, text=text, seconds=seconds)
        video_actions.note(opened.build, draft, who)
    except LatewoodError as error:
        st.error(verbatim(str(error)))
        return
    st.rerun()
