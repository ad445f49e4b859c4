"""The log of films: a file name or an address and a time mark, kept with one trial of an athlete; only added to.

The tool keeps a name, never the film: nothing is uploaded, copied or sent, and no page that leaves knows of it. The
last line of a trial is the one in force; an empty name takes it back.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Final

from latewood.pipeline import durable
from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.logs.audited import append_audited, note_late
from latewood.pipeline.ingest.logs.joins import joins_of
from latewood.pipeline.ingest.logs.lines import forget_texts, read_typed, whole_bytes
from latewood.pipeline.ingest.program import load_program

LOG: Final = "video_log.jsonl"
LOCK: Final = ".video_log.lock"
FOLDER: Final = "videos"  # of the data folder; may be a link to where the films lie
KINDS: Final = (".mp4", ".m4v", ".webm", ".mov", ".ogv")
TEXT_LENGTH: Final = 300
LONGEST: Final = 24 * 3600.0  # seconds into a film
LARGEST: Final = 200_000_000  # bytes; the browser is handed the file out of memory


@dataclass(frozen=True, slots=True, kw_only=True)
class VideoNote:
    """One line of the log: the film of a trial as it was named, and how many seconds into it the trial begins."""

    video_id: str
    at: str
    by: str
    athlete_id: str
    measured_on: str
    trial: int
    text: str
    seconds: float

    @property
    def day(self) -> date:
        """The day of the trial."""
        return date.fromisoformat(self.measured_on)

    @property
    def on(self) -> date:
        """The day on which it was noted, at the program's place."""
        return datetime.fromisoformat(self.at).date()


@dataclass(frozen=True, slots=True, kw_only=True)
class NewVideo:
    """A film as it is handed in, before it has an id, a time and a name under it."""

    athlete_id: str
    measured_on: date
    trial: int
    text: str
    seconds: float


def read_log(root: Path) -> tuple[VideoNote, ...]:
    """Every line in the order of writing. Raises LandingError naming a line it cannot read."""
    found = read_typed(
        whole_bytes(root / LOG), LOG, VideoNote, lambda one: (one.on, one.day, float(one.seconds))
    )
    return tuple(one for _, one in found)


def of_athlete(root: Path, athlete_id: str) -> Mapping[tuple[date, int], VideoNote]:
    """The film in force of each day and trial of an athlete, also noted under an id that was joined into theirs."""
    joins = joins_of(root)
    mine = [one for one in read_log(root) if joins.head(one.athlete_id) == joins.head(athlete_id)]
    last = {(one.day, one.trial): one for one in mine}
    return {key: one for key, one in last.items() if one.text}


def write(root: Path, draft: NewVideo, by: str) -> VideoNote:
    """Note the film of a trial. Raises DecisionError without a name, and for a text or a time that cannot be kept."""
    plain = " ".join(draft.text.split())
    if not by.strip():
        raise DecisionError("who notes the film is not named; write your name")
    if len(plain) > TEXT_LENGTH or not plain.isprintable():
        raise DecisionError(f"the name of a film is one printable line of up to {TEXT_LENGTH} characters")
    if not 0.0 <= draft.seconds <= LONGEST:
        raise DecisionError(
            f"{draft.seconds:g} s into a film is not between 0 and {LONGEST:.0f}; type seconds"
        )
    at = load_program(root).now().isoformat()
    with durable.locked(root / LOCK):
        last = next(reversed(read_log(root)), None)
        if last is not None:
            note_late(root, "video", last.by, _details(root, last))
        position = whole_bytes(root / LOG).count(b"\n")
        body = json.dumps([position, at, by, draft.athlete_id, draft.trial, plain], ensure_ascii=False)
        made = VideoNote(
            video_id=hashlib.sha256(body.encode()).hexdigest()[:12],
            at=at,
            by=by.strip(),
            athlete_id=draft.athlete_id,
            measured_on=draft.measured_on.isoformat(),
            trial=draft.trial,
            text=plain,
            seconds=draft.seconds,
        )
        append_audited(root, root / LOG, asdict(made), by, _details(root, made))
    return made


def _details(root: Path, made: VideoNote) -> audit.Details:
    return {"video": made.video_id, "subject": audit.subject(root, made.athlete_id)}


def file_of(root: Path, text: str) -> Path | None:
    """The film of this name in the folder of films, where there is one that a browser can play; nothing outside it."""
    folder = (root / FOLDER).resolve()
    try:
        place = (folder / text).resolve()
        playable = place.suffix.lower() in KINDS and place.is_file() and place.stat().st_size <= LARGEST
    except (OSError, ValueError):
        return None
    return place if playable and place.is_relative_to(folder) else None


def forget(root: Path, athlete_id: str, names: Callable[[str], bool]) -> int:
    """Empty the lines about an athlete, and names of other lines that name them; return 1 where the log changed."""
    with durable.locked(root / LOCK):
        return forget_texts(root / LOG, athlete_id, names)
