"""The review of one camp as the screen reads it, bounded to what the viewer may see."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import streamlit as st

from dashboard import data, guard, rows
from pipeline.errors import ForbiddenError
from pipeline.ingest.program import data_dir
from pipeline.summary.camp.issue import review_of
from pipeline.summary.camp.model import CampReview


def check_camp(build: rows.Build, right: str, camp_id: str) -> None:
    """Raise ForbiddenError where the viewer does not hold the right for this camp."""
    camps = build.viewer.camps_for(right)
    if camps is not None and camp_id not in camps:
        raise ForbiddenError(guard.NOT_YOURS)


def camp_review(build: rows.Build, camp_id: str, units: str, lead: str = "") -> CampReview:
    """The review of a camp; raises ForbiddenError outside one's camps, SummaryError where there is no such camp."""
    check_camp(build, "cohort", camp_id)
    return _cached(str(data_dir()), build.build_id, camp_id, units, lead, data.today())


@st.cache_resource(max_entries=60, show_spinner="Reading the camp")
def _cached(folder: str, build_id: str, camp_id: str, units: str, lead: str, today: date) -> CampReview:
    # Whole and frozen: only camp_review may call it, since it asks for the right first. The build id and the day in
    # the key retire it.
    return review_of(Path(folder), camp_id, units, lead)
