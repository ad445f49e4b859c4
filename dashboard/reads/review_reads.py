"""The review of one camp as the screen reads it, bounded to what the viewer may see."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import streamlit as st

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import rows, warehouse
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.camp.issue import review_of
from latewood.pipeline.pages.camp.model import CampReview


def camp_review(build: rows.Build, camp_id: str, units: str, lead: str = "") -> CampReview:
    """The review of a camp; raises ForbiddenError outside one's camps, SummaryError where there is no such camp."""
    rights.in_camp(build, "cohort", camp_id)
    return _cached(str(data_dir()), build.build_id, camp_id, units, lead, warehouse.today())


@st.cache_resource(max_entries=60, show_spinner="Reading the camp")
def _cached(folder: str, build_id: str, camp_id: str, units: str, lead: str, today: date) -> CampReview:
    # Whole and frozen: only camp_review may call it, since it asks for the right first. The build id and the day in
    # the key retire it.
    return review_of(Path(folder), camp_id, units, lead)
