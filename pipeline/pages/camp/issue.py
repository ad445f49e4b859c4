"""Hands out the review of a camp: makes its files and notes the export in the audit log before they leave."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.pages.camp.make import make_review
from latewood.pipeline.pages.camp.model import CampReview
from latewood.pipeline.pages.camp.page import make_page
from latewood.pipeline.pages.camp.pdf import render_pdf
from latewood.pipeline.pages.camp.record import read_camp
from latewood.pipeline.pages.camp.table import (
    GAIN_HEADS,
    PART_HEADS,
    gain_rows,
    part_rows,
    render_csv,
    render_xlsx,
)
from latewood.pipeline.pages.recruit.issue import file_stem

FORMS = ("pdf", "csv", "xlsx")
EVENT = "export"


def review_of(root: Path, camp_id: str, units: str = "us", lead: str = "") -> CampReview:
    """Return the review of a camp from the published build. Raises SummaryError where there is no such camp."""
    return make_review(read_camp(root, camp_id), units, lead)


def issue_review(
    root: Path, review: CampReview, who: str, forms: Sequence[str] = ("pdf",), paper: str = "letter"
) -> Mapping[str, bytes]:
    """Return the files of a review by name; the audit log names camp, forms and build before they are handed out.

    Raises SummaryError where a form is not one of FORMS or the sheet does not fit.
    """
    unknown = [form for form in forms if form not in FORMS]
    if unknown or not forms:
        raise SummaryError(f"form {''.join(unknown[:1])!r} is not one of {', '.join(FORMS)}")
    stem = f"camp-review_{file_stem(review.label)}_{review.build_id[:8]}"
    makers: dict[str, Callable[[], dict[str, bytes]]] = {
        "pdf": lambda: {f"{stem}.pdf": render_pdf(make_page(review), review.made_on, paper)},
        "csv": lambda: {
            f"{stem}_gains.csv": render_csv(GAIN_HEADS, gain_rows(review)),
            f"{stem}_parts.csv": render_csv(PART_HEADS, part_rows(review)),
        },
        "xlsx": lambda: {f"{stem}.xlsx": render_xlsx(review)},
    }
    files = {name: content for form in forms for name, content in makers[form]().items()}
    told = {
        "what": "camp review", "camp": review.camp_id, "forms": ", ".join(forms), "build": review.build_id,
    }  # fmt: skip
    audit.append(root, EVENT, who, told)
    return files
