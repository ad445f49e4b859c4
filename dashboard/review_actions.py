"""What the camp review screen hands out: files of a review, noted in the audit log, to the director only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dashboard import review_data, rights, rows
from pipeline.ingest.program import data_dir
from pipeline.summary.camp.issue import issue_review


def export_review(
    build: rows.Build, camp_id: str, units: str, lead: str, who: str, forms: Sequence[str], paper: str
) -> Mapping[str, bytes]:
    """The files of a camp review by name; raises ForbiddenError, SummaryError."""
    viewer = rights.in_camp(build, "export", camp_id)
    review = review_data.camp_review(build, camp_id, units, lead)
    return issue_review(data_dir(), review, viewer.signs(who), forms, paper)
