"""The case of a stay: read as the viewer may see it, a coach's own words written down, printed and noted."""

from __future__ import annotations

from collections.abc import Mapping

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import rows
from latewood.pipeline.ingest.logs import case_words
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.case.issue import CaseOrder, case_of, issue_case
from latewood.pipeline.pages.case.page import CasePage


def _order(build: rows.Build, stay: rows.Stay, units: str, paper: str = "letter") -> CaseOrder:
    seen = rights.is_covered(build, "observation", stay)
    return CaseOrder(stay_id=stay.stay_id, units=units, paper=paper, observations=seen)


def case_page(build: rows.Build, stay: rows.Stay, units: str) -> CasePage:
    """The case of a stay in words; raises ForbiddenError, SummaryError."""
    rights.of_stay(build, "athlete", stay)
    return case_of(data_dir(), stay.athlete_id, _order(build, stay, units))


def write_words(build: rows.Build, stay: rows.Stay, draft: case_words.NewWords, by: str) -> None:
    """Write a coach's own words down; raises ForbiddenError, DecisionError."""
    viewer = rights.of_stay(build, "write case", stay)
    case_words.write(data_dir(), draft, viewer.signs(by))


def print_case(build: rows.Build, stay: rows.Stay, who: str, units: str, paper: str) -> Mapping[str, bytes]:
    """The printed case for the staff by file name; raises ForbiddenError, SummaryError."""
    viewer = rights.of_stay(build, "print case", stay)
    return issue_case(data_dir(), stay.athlete_id, viewer.signs(who), _order(build, stay, units, paper))


def print_for_family(
    build: rows.Build, stay: rows.Stay, who: str, units: str, paper: str
) -> Mapping[str, bytes]:
    """The printed case for the family, by the right to family pages; raises ForbiddenError, SummaryError."""
    viewer = rights.of_stay(build, "family page", stay)
    order = CaseOrder(stay_id=stay.stay_id, family=True, units=units, paper=paper)
    return issue_case(data_dir(), stay.athlete_id, viewer.signs(who), order)
