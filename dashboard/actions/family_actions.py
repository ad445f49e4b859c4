"""The page for an athlete and the family: whether one may be made, and making it; coach and director only."""

from __future__ import annotations

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import rows
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.family import issue
from latewood.pipeline.pages.handout import Handout


def why_not(build: rows.Build, athlete_id: str) -> str:
    """Why no page may go to the family today; '' where one may. Raises ForbiddenError."""
    rights.may(build, "family page", (athlete_id,))
    return issue.why_not(data_dir(), athlete_id)


def family_page(
    build: rows.Build, athlete_id: str, who: str, handout: Handout, units: str
) -> issue.FamilyFiles:
    """The files of an athlete's page, and the forms that cannot be made.

    Raises ForbiddenError, and SummaryError without a consent that stands.
    """
    viewer = rights.may(build, "family page", (athlete_id,))
    order = issue.FamilyOrder(forms=handout.forms, units=units, paper=handout.paper)
    return issue.issue_family(data_dir(), athlete_id, viewer.signs(who), order)


def may_withdraw(build: rows.Build, athlete_id: str) -> bool:
    """Whether there is a consent to family pages that could be withdrawn. Raises ForbiddenError."""
    rights.may(build, "consent", (athlete_id,))
    given = consent_book.standing(data_dir(), purpose=FAMILY).by_athlete.get(athlete_id)
    return given is not None and given.withdrawn_on is None


def withdraw(build: rows.Build, athlete_id: str, who: str) -> str:
    """Withdraw the consent to family pages at once. Raises ForbiddenError, ConsentError."""
    viewer = rights.may(build, "consent", (athlete_id,))
    consent_book.withdraw(data_dir(), athlete_id, viewer.signs(who), FAMILY)
    return "Consent to family pages withdrawn. A page the family has cannot be called back."
