"""Whether a viewer may do an action, and for whom: the one place that every action asks before it acts.

Asked from the list of people and the sign-in as they are at the action, never from what a page knew when it was drawn:
somebody taken off the list, signed out or given another role is out at the next action of a screen still open.
"""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.reads import guard, rows
from latewood.dashboard.reads.read import circle
from latewood.pipeline.access import Viewer
from latewood.pipeline.errors import ForbiddenError
from latewood.pipeline.ingest.program import data_dir


def held(viewer: Viewer, right: str) -> Viewer:
    """The viewer as they are now, where a role of theirs holds the right; else ForbiddenError or SignInError."""
    result = viewer.now()
    result.camps_for(right)
    return result


def in_camp(build: rows.Build, right: str, camp_id: str) -> Viewer:
    """The viewer, where a role of theirs holds the right for this camp; else ForbiddenError."""
    viewer = build.viewer
    camps = viewer.camps_for(right)
    if camps is not None and camp_id not in camps:
        raise ForbiddenError(guard.NOT_YOURS)
    return viewer


def in_camps(build: rows.Build, right: str, camp_ids: Iterable[str]) -> Viewer:
    """The viewer, where a role of theirs holds the right for each of at least one camp; else ForbiddenError."""
    viewer, asked = build.viewer, frozenset(camp_ids)
    camps = viewer.camps_for(right)
    if not asked or (camps is not None and not asked <= camps):
        raise ForbiddenError(guard.NOT_YOURS)
    return viewer


def may(build: rows.Build, right: str, athlete_ids: Iterable[str] = ()) -> Viewer:
    """The viewer, where a role of theirs holds the right for all these athletes; else ForbiddenError."""
    viewer = build.viewer
    camps = viewer.camps_for(right)
    if camps is not None and not set(athlete_ids) <= circle(str(data_dir()), build.build_id, camps).athletes:
        raise ForbiddenError(guard.NOT_YOURS)
    return viewer


def covered(build: rows.Build, right: str, athlete_ids: Iterable[str]) -> frozenset[str]:
    """Those of the athletes for whom the right holds; ForbiddenError where it holds for nobody."""
    camps = build.viewer.camps_for(right)
    if camps is None:
        return frozenset(athlete_ids)
    return frozenset(athlete_ids) & circle(str(data_dir()), build.build_id, camps).athletes


def of_stay(build: rows.Build, right: str, stay: rows.Stay) -> Viewer:
    """The viewer, where a role of theirs holds the right for the camp of this stay; else ForbiddenError."""
    viewer = may(build, right, (stay.athlete_id,))
    camps = viewer.camps_for(right)
    if camps is not None and stay.stay_id not in circle(str(data_dir()), build.build_id, camps).stays:
        raise ForbiddenError(guard.NOT_YOURS)
    return viewer


def is_covered(build: rows.Build, right: str, stay: rows.Stay) -> bool:
    """Whether the right holds for this stay."""
    try:
        of_stay(build, right, stay)
    except ForbiddenError:
        return False
    return True
