"""The review of one camp as the screen reads it, bounded to what the viewer may see."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import streamlit as st

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import rows, warehouse
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.camp.issue import review_of
from latewood.pipeline.pages.camp.model import CampReview
from latewood.pipeline.pages.years.make import read_years
from latewood.pipeline.pages.years.model import Years


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewChoice:
    """Which camp is reviewed, in which units, and the measure that comes first: the one with most athletes for ''."""

    camp_id: str
    units: str
    lead: str = ""


def camp_review(build: rows.Build, chosen: ReviewChoice) -> CampReview:
    """The review of a camp; raises ForbiddenError outside one's camps, SummaryError where there is no such camp."""
    rights.in_camp(build, "cohort", chosen.camp_id)
    return _cached(str(data_dir()), build.build_id, chosen, warehouse.today())


@st.cache_resource(max_entries=60, show_spinner="Reading the camp")
def _cached(folder: str, build_id: str, chosen: ReviewChoice, today: date) -> CampReview:
    # Whole and frozen: only camp_review may call it, since it asks for the right first. The build id and the day in
    # the key retire it.
    return review_of(Path(folder), chosen.camp_id, chosen.units, chosen.lead)


@dataclass(frozen=True, slots=True, kw_only=True)
class YearsChoice:
    """Which camps stand beside each other, in which units, and whether outsiders read it."""

    camps: tuple[str, ...]
    units: str
    outside: bool = False


def camps_over_years(build: rows.Build, chosen: YearsChoice) -> Years:
    """Camps over the years; raises ForbiddenError where one of them is outside one's camps."""
    rights.in_camps(build, "cohort", chosen.camps)
    return _years(str(data_dir()), build.build_id, chosen, warehouse.today())


@st.cache_resource(max_entries=20, show_spinner="Reading the camps")
def _years(folder: str, build_id: str, chosen: YearsChoice, today: date) -> Years:
    # Whole and frozen: only camps_over_years may call it. The build id and the day in the key retire it.
    return read_years(Path(folder), chosen.units, chosen.camps, outside=chosen.outside)
