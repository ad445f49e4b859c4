"""When each person last looked at what waits for them: one small file a person in the data folder.

A visit is a day, of the program's clock, on which somebody opened the first screen. Looks on one day are one visit:
whoever looks at seven and again at nine has not settled the list in between, and loading a page again must not
empty it. What was seen last on that day is what the next visit is compared with.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from filelock import FileLock

FOLDER: Final = "visits"
KEPT: Final = 3  # days a person's file holds: today, the visit before, and one more for a clock put back
_BUILD: Final = re.compile(r"[0-9a-f]{16}")


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitDay:
    """A day on which a person looked, and the build that was seen last on it."""

    on: date
    build_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """What a look is compared with. `trouble` says in words what was wrong with the record, '' where nothing was."""

    before: VisitDay | None
    trouble: str


def note_visit(root: Path, who: str, today: date, build_id: str) -> Visit:
    """Write down that this person looks today, and return the visit before.

    A record that cannot be read counts as no visit known, is said in `trouble` and written anew; a disk that takes
    nothing is said too.
    """
    path, trouble = path_of(root, who), ""
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with FileLock(str(path.parent / ".lock")):
            try:
                known = read_visits(path)
            except ValueError as error:
                known, trouble = (), f"the record of your last visit cannot be read ({error})"
            kept = [one for one in known if one.on < today]
            now = [*kept, VisitDay(on=today, build_id=build_id)][-KEPT:]
            if tuple(now) != known:
                _write(path, now)
    except OSError as error:
        return Visit(
            before=_before(path, today), trouble=f"this visit cannot be written down ({error.strerror})"
        )
    return Visit(before=kept[-1] if kept else None, trouble=trouble)


def _before(path: Path, today: date) -> VisitDay | None:
    """The visit before, where nothing can be written."""
    try:
        earlier = [one for one in read_visits(path) if one.on < today]
    except (OSError, ValueError):
        return None
    return earlier[-1] if earlier else None


def read_visits(path: Path) -> tuple[VisitDay, ...]:
    """The days of one person's file, in order; none where there is no file. Raises ValueError."""
    if not path.exists():
        return ()
    try:
        rows = json.loads(path.read_text(encoding="utf-8"))["visits"]
        result = [VisitDay(on=date.fromisoformat(row["on"]), build_id=str(row["build"])) for row in rows]
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"not a record of visits: {error!r}") from error
    if not all(_BUILD.fullmatch(one.build_id) for one in result):
        raise ValueError("it names no build")
    return tuple(sorted(result, key=lambda one: one.on))


def observed_builds(root: Path) -> frozenset[str]:
    """Every build that somebody's next visit will be compared with."""
    result: set[str] = set()
    for path in (root / FOLDER).glob("*.json"):
        try:
            result |= {one.build_id for one in read_visits(path)}
        except (OSError, ValueError):
            continue
    return frozenset(result)


def path_of(root: Path, who: str) -> Path:
    """The file of one person, whose name and address it does not spell."""
    return root / FOLDER / f"{hashlib.sha256(who.lower().encode()).hexdigest()[:24]}.json"


def _write(path: Path, visits: list[VisitDay]) -> None:
    """Put the whole file in place, or nothing."""
    record = {"visits": [{"on": one.on.isoformat(), "build": one.build_id} for one in visits]}
    waiting = path.with_name(f".{path.name}.{os.getpid()}")
    with waiting.open("w", encoding="utf-8") as stream:
        stream.write(json.dumps(record) + "\n")
        stream.flush()
        os.fsync(stream.fileno())
    waiting.replace(path)
