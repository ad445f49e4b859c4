"""Whether a viewer may do a deed, and for whom: asked by every deed before it acts."""

from __future__ import annotations

from collections.abc import Iterable

from dashboard import data, guard, rows
from pipeline.access import Viewer
from pipeline.errors import ForbiddenError
from pipeline.ingest.program import data_dir


def may(build: rows.Build, right: str, athlete_ids: Iterable[str] = ()) -> Viewer:
    """The viewer, where a role of theirs holds the right for all these athletes; else ForbiddenError."""
    camps = build.viewer.camps_for(right)
    if (
        camps is not None
        and not set(athlete_ids) <= data.circle(str(data_dir()), build.build_id, camps).athletes
    ):
        raise ForbiddenError(guard.NOT_YOURS)
    return build.viewer


def covered(build: rows.Build, right: str, athlete_ids: Iterable[str]) -> frozenset[str]:
    """Those of the athletes for whom the right holds; ForbiddenError where it holds for nobody."""
    camps = build.viewer.camps_for(right)
    if camps is None:
        return frozenset(athlete_ids)
    return frozenset(athlete_ids) & data.circle(str(data_dir()), build.build_id, camps).athletes
