"""Hands out family pages: checks the consent to this purpose, makes the forms, notes each page in the audit log.

A family page goes to the athlete and the family only, so it is not in the register of pages that others may rely on.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY, refusal
from latewood.pipeline.ingest.logs import audit, focus
from latewood.pipeline.ingest.logs.planlog import current_log, hidden_masses
from latewood.pipeline.pages.family.forms import render_pdf, render_web
from latewood.pipeline.pages.family.make import FamilyAthlete, Verdicts, make_family
from latewood.pipeline.pages.family.model import Family
from latewood.pipeline.pages.family.page import make_page
from latewood.pipeline.pages.record import ProgramRecord, read_record
from latewood.pipeline.pages.recruit.issue import file_stem, made_forms
from latewood.pipeline.warehouse.connection import open_published, read_sql

FORMS = ("pdf", "html")
WHAT = "family page"


def why_not(root: Path, athlete_id: str) -> str:
    """Why no page may go to the family today, with the fix; '' where one may."""
    why = consent_book.refusals(root, FAMILY).get(athlete_id)
    return f"athlete {athlete_id!r} is not on any roster; see `latewood athletes`" if why is None else why


def family_of(record: ProgramRecord, athlete_id: str, units: str = "us") -> Family:
    """Return the page of one athlete as values.

    Raises SummaryError without a consent to this purpose that stands, or where nothing can be shown.
    """
    root = record.root
    if athlete_id not in record.athletes:
        raise SummaryError(f"athlete {athlete_id!r} is not on any roster; see `latewood athletes`")
    consents = consent_book.standing(root, purpose=FAMILY)
    why = refusal(consents, athlete_id, record.athletes[athlete_id].birth_date, record.today)
    if why:
        raise SummaryError(f"page for the family: {why}")
    with closing(open_published(root)) as connection:
        verdicts = connection.execute(
            read_sql("read/family_verdicts.sql"), {"athlete": athlete_id}
        ).fetchall()
        tapes = connection.execute(read_sql("read/family_tapes.sql")).fetchall()
        camps = connection.execute(read_sql("read/family_camps.sql"), {"athlete": athlete_id}).fetchall()
    athlete = FamilyAthlete(
        athlete_id=athlete_id,
        consent=consents.by_athlete[athlete_id],
        focus=focus.of_athlete(root, athlete_id),
        hides_mass=athlete_id in hidden_masses(current_log(root)),
        camp_of=dict(camps),
    )
    judged = Verdicts(
        of_trends={(r[0], r[1], r[2]): (r[3], r[4]) for r in verdicts},
        noise={(r[0], r[1]): r[2] for r in tapes},
    )
    return make_family(record, athlete, judged, units)


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyOrder:
    """How a page is to be handed out: its forms, 'us' or 'metric' units, and the paper of the PDF."""

    forms: Sequence[str] = ("pdf",)
    units: str = "us"
    paper: str = "letter"


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyFiles:
    """The files of one page by name, and the forms that could not be made with their reasons."""

    files: Mapping[str, bytes]
    missing: Mapping[str, str]


def issue_family(
    root: Path,
    athlete_id: str,
    who: str,
    order: FamilyOrder | None = None,
    record: ProgramRecord | None = None,
) -> FamilyFiles:
    """Return the files of one athlete's page, noted in the log before they are handed out.

    A letter that no font has holds up the PDF only. Raises SummaryError without a consent to this purpose, or where
    no form can be made; the refusal is noted too.
    """
    wanted = order or FamilyOrder()
    unknown = [form for form in wanted.forms if form not in FORMS]
    if unknown or not wanted.forms:
        raise SummaryError(f"form {''.join(unknown[:1])!r} is not one of {', '.join(FORMS)}")
    known = record or read_record(root)
    token = audit.subject(root, athlete_id) if athlete_id in known.athletes else "not on the roster"
    try:
        family = family_of(known, athlete_id, wanted.units)
        page = make_page(family)
        makers: dict[str, Callable[[], bytes]] = {
            "pdf": lambda: render_pdf(page, family.made_on, wanted.paper),
            "html": lambda: render_web(page).encode(),
        }
        stem = f"family_{file_stem(family.name)}_{secrets.token_hex(3)}"
        files, missing = made_forms({form: makers[form] for form in wanted.forms}, stem)
    except SummaryError as error:
        why = str(error).split("'")[0]
        audit.append(root, "export refused", who, {"what": WHAT, "subject": token, "why": why})
        raise
    reported = {
        "what": WHAT,
        "subject": token,
        "forms": ", ".join(f for f in wanted.forms if f not in missing),
        "build": known.build_id,
    }
    audit.append(root, "export", who, reported)
    return FamilyFiles(files=files, missing=missing)
