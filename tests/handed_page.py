"""A family's web page as it is handed out, made in a copy of a folder."""

from __future__ import annotations

import shutil
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY, FIELDS, Consent
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.pages.family.issue import FamilyOrder, issue_family
from latewood.pipeline.warehouse.connection import open_published


def family_page(demo: Path, under: Path, name: str) -> Path:
    """The page of the athlete of this name; the family does not want to read about the body."""
    root = Path(shutil.copytree(demo, under / "data"))
    with closing(open_published(root)) as connection:
        query = "select athlete_id from athlete where display_name = $name"
        (who,) = connection.execute(query, {"name": name}).fetchall()[0]
    today = load_program(root).today()
    wanted = tuple(field for field in FIELDS if field != "body_mass")
    assert len(wanted) == len(FIELDS) - 1
    given = Consent(
        athlete_id=who, given_by="guardian", given_on=today, expires_on=today + timedelta(days=90), fields=wanted,
        measures=("all",), projection=False, photo=False, reference="binder",
    )  # fmt: skip
    consent_book.record(root, replace(given, purpose=FAMILY), "Dana")
    (content,) = issue_family(root, who, "Dana", FamilyOrder(forms=("html",))).files.values()
    place = under / "page.html"
    place.write_bytes(content)
    return place
