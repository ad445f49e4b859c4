"""Whether pictures of an athlete may be looked at: only while a consent that says yes to pictures is in force."""

from __future__ import annotations

from pathlib import Path

from latewood.pipeline.ingest.consent import agreed, consent_book
from latewood.pipeline.ingest.program import load_program

NO_PICTURES = "No consent to pictures of this athlete is in force, so the film is not opened."


def refusal(root: Path, athlete_id: str) -> str:
    """Why no film of an athlete is opened today; '' where one of their consents in force says yes to pictures."""
    birth, today = consent_book.births(root).get(athlete_id), load_program(root).today()
    for purpose in (agreed.RECRUITING, agreed.FAMILY):
        consents = consent_book.standing(root, purpose=purpose)
        given = consents.by_athlete.get(athlete_id)
        if given is not None and given.photo and not agreed.refusal(consents, athlete_id, birth, today):
            return ""
    return NO_PICTURES
