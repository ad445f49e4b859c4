"""Hands out the case of a stay: to the staff, or to the family where consent to family pages stands; both are noted.

No copy is kept in the data folder: an erasure deletes the coach's words, and a case made before is the program's to
destroy.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent.health import word_of_health
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.pages.case.family import StayFocus, make_family_case
from latewood.pipeline.pages.case.make import AFTER_EXIT, make_case
from latewood.pipeline.pages.case.page import CasePage
from latewood.pipeline.pages.case.pdf import render_pdf
from latewood.pipeline.pages.case.record import CaseRecord, read_case
from latewood.pipeline.pages.family.issue import family_of
from latewood.pipeline.pages.record import ProgramRecord, read_record
from latewood.pipeline.pages.recruit.issue import file_stem
from latewood.pipeline.pages.words import shown_name

STAFF, FAMILY_CASE = "case", "case for the family"


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseOrder:
    """Which case is wanted: the stay ('' for the latest), for whom, in which units and on which paper.

    `observations` is whether whoever takes a case of the staff may see what coaches rated.
    """

    stay_id: str = ""
    family: bool = False
    units: str = "us"
    paper: str = "letter"
    observations: bool = True


def case_of(root: Path, athlete_id: str, order: CaseOrder) -> CasePage:
    """Return the case as words. Raises SummaryError for an unknown athlete or stay, or a family without consent."""
    if not order.family:
        return make_case(
            read_case(root, athlete_id, order.stay_id), order.units, observations=order.observations
        )
    return family_case_of(read_record(root), athlete_id, order)


def family_case_of(record: ProgramRecord, athlete_id: str, order: CaseOrder) -> CasePage:
    """Return the case that the family may have. Raises SummaryError without a consent to family pages that stands."""
    family = family_of(record, athlete_id, order.units)
    tested = [one for one in record.values[athlete_id] if one.stay_id]
    latest = max(tested, key=lambda one: one.held_on).stay_id
    if order.stay_id not in {"", latest}:
        raise SummaryError(
            f"a case for the family is made of the latest stay with a test, {latest!r}; leave the stay out"
        )
    case = read_case(record.root, athlete_id, latest)
    return make_family_case(family, _worked(case), case.words)


def _worked(case: CaseRecord) -> list[StayFocus]:
    end = (case.stay.left_on or case.today) + AFTER_EXIT
    return [
        StayFocus(on=one.on, text=shown_name(one.text, 300))
        for one in case.focus
        if case.stay.arrived_on <= one.on <= end and not word_of_health(one.text)
    ]


def issue_case(root: Path, athlete_id: str, who: str, order: CaseOrder) -> Mapping[str, bytes]:
    """Return the printed case by file name, noted in the audit log before it is handed out; a refusal is noted too.

    Raises SummaryError as `case_of` does, or where the sheet cannot be made.
    """
    what = FAMILY_CASE if order.family else STAFF
    try:
        page = case_of(root, athlete_id, order)
        content = render_pdf(page, order.paper)
    except SummaryError as error:
        known = athlete_id in audit.subjects(root)
        token = audit.subject(root, athlete_id) if known else "without a token"
        audit.append(
            root, "export refused", who, {"what": what, "subject": token, "why": str(error).split("'")[0]}
        )
        raise
    reported = {
        "what": what, "subject": audit.subject(root, athlete_id), "forms": "pdf", "build": page.build_id,
    }  # fmt: skip
    audit.append(root, "export", who, reported)
    return {f"case_{file_stem(page.name)}_{secrets.token_hex(3)}.pdf": content}
