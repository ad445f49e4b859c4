"""What the screens of camps hand out: files of one camp or of all, noted in the audit log, to the director only."""

from __future__ import annotations

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import review_reads, rows
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.camp.issue import ReviewFiles, issue_outside, issue_review
from latewood.pipeline.pages.handout import Handout
from latewood.pipeline.pages.roster.make import issue_roster, read_roster
from latewood.pipeline.pages.years.issue import issue_years


def export_review(
    build: rows.Build, chosen: review_reads.ReviewChoice, who: str, handout: Handout
) -> ReviewFiles:
    """The files of a camp review, and the forms that could not be made; raises ForbiddenError, SummaryError."""
    viewer = rights.in_camp(build, "export", chosen.camp_id)
    review = review_reads.camp_review(build, chosen)
    return issue_review(data_dir(), review, viewer.signs(who), handout.forms, handout.paper)


def export_outside(
    build: rows.Build, chosen: review_reads.ReviewChoice, who: str, handout: Handout
) -> ReviewFiles:
    """The version for outsiders, by the same right; raises ForbiddenError, SummaryError."""
    viewer = rights.in_camp(build, "export", chosen.camp_id)
    review = review_reads.camp_review(build, chosen)
    return issue_outside(data_dir(), review, viewer.signs(who), handout.forms, handout.paper)


def export_years(
    build: rows.Build, chosen: review_reads.YearsChoice, who: str, handout: Handout
) -> ReviewFiles:
    """The camps over the years, where the right holds for each of them; raises ForbiddenError, SummaryError."""
    viewer = rights.in_camps(build, "export", chosen.camps)
    years = review_reads.camps_over_years(build, chosen)
    return issue_years(data_dir(), years, viewer.signs(who), handout.forms, handout.paper)


def export_roster(build: rows.Build, camp_id: str, who: str, handout: Handout) -> ReviewFiles:
    """The roster of a camp with its test days; raises ForbiddenError, SummaryError."""
    viewer = rights.in_camp(build, "export", camp_id)
    roster = read_roster(data_dir(), camp_id)
    return issue_roster(data_dir(), roster, viewer.signs(who), handout.forms, handout.paper)
