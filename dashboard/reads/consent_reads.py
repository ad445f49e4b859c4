"""Reads withdrawals of consent that fit nobody on the roster, for whoever may see held rows or withdraw a consent."""

from __future__ import annotations

from latewood.pipeline.access import Viewer
from latewood.pipeline.errors import NothingPublishedError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import Unplaced
from latewood.pipeline.ingest.program import data_dir


def may_see(viewer: Viewer) -> bool:
    """Whether these rows concern somebody."""
    return viewer.holds("held") or viewer.holds("consent")


def unplaced(viewer: Viewer) -> tuple[Unplaced, ...]:
    """The rows as they are in the files now, built or not; none for others."""
    if not may_see(viewer):
        return ()
    try:
        return consent_book.unplaced(data_dir())
    except NothingPublishedError:
        return ()
