"""What the camp review screen hands out: files of a review, noted in the audit log, to the director only."""

from __future__ import annotations

from collections.abc import Sequence

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import review_reads, rows
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.camp.issue import ReviewFiles, issue_outside, issue_review


def export_review(
    build: rows.Build, camp_id: str, units: str, lead: str, who: str, forms: Sequence[str], paper: str
) -> ReviewFiles:
    """The files of a camp review, and the forms that could not be made; raises ForbiddenError, SummaryError."""
    viewer = rights.in_camp(build, "export", camp_id)
    review = review_reads.camp_review(build, camp_id, units, lead)
    return issue_review(data_dir(), review, viewer.signs(who), forms, paper)


def export_outside(
    build: rows.Build, camp_id: str, units: str, lead: str, who: str, forms: Sequence[str], paper: str
) -> ReviewFiles:
    """The version for outsiders, by the same right; raises ForbiddenError, SummaryError."""
    viewer = rights.in_camp(build, "export", camp_id)
    review = review_reads.camp_review(build, camp_id, units, lead)
    return issue_outside(data_dir(), review, viewer.signs(who), forms, paper)
