"""The film of a trial: named by a coach, opened for the staff who may see movement, and nowhere else."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import rows
from latewood.pipeline.ingest.consent import pictures
from latewood.pipeline.ingest.logs import videos
from latewood.pipeline.ingest.program import data_dir


def noted(build: rows.Build, athlete_id: str) -> Mapping[tuple[date, int], videos.VideoNote]:
    """The film of each day and trial; raises ForbiddenError where the athlete is not the viewer's."""
    rights.may(build, "observation", (athlete_id,))
    return videos.of_athlete(data_dir(), athlete_id)


def opened(build: rows.Build, note: videos.VideoNote, athlete_id: str) -> tuple[Path | None, str]:
    """The local file of a film, or why there is none to open; raises ForbiddenError."""
    rights.may(build, "observation", (athlete_id,))
    refused = pictures.refusal(data_dir(), athlete_id)
    return (None, refused) if refused else (videos.file_of(data_dir(), note.text), "")


def note(build: rows.Build, draft: videos.NewVideo, by: str) -> None:
    """Note the film of a trial, or take it back with an empty name; raises ForbiddenError, DecisionError."""
    viewer = rights.may(build, "note video", (draft.athlete_id,))
    videos.write(data_dir(), draft, viewer.signs(by))
