"""Hands out the review of a camp: makes its files and notes the export in the audit log before they leave."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.pages.camp.athletes import named_changes
from latewood.pipeline.pages.camp.make import make_review
from latewood.pipeline.pages.camp.model import CampReview
from latewood.pipeline.pages.camp.outside import gain_cells, make_outside, part_cells
from latewood.pipeline.pages.camp.page import make_page
from latewood.pipeline.pages.camp.pdf import render_outside, render_pdf
from latewood.pipeline.pages.camp.record import read_camp
from latewood.pipeline.pages.camp.table import (
    GAIN_HEADS,
    OUTSIDE_GAIN_HEADS,
    OUTSIDE_PART_HEADS,
    PART_HEADS,
    gain_rows,
    part_rows,
    render_csv,
    render_xlsx,
)
from latewood.pipeline.pages.recruit.issue import file_stem

FORMS = ("pdf", "csv", "xlsx")
OUTSIDE_FORMS = ("pdf", "csv")
EVENT = "export"


def review_of(root: Path, camp_id: str, units: str = "us", lead: str = "") -> CampReview:
    """Return the review of a camp from the published build. Raises SummaryError where there is no such camp."""
    return make_review(read_camp(root, camp_id), units, lead)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewFiles:
    """The files of one review by name, and the forms that could not be made with their reasons."""

    files: Mapping[str, bytes]
    missing: Mapping[str, str]


def issue_review(
    root: Path, review: CampReview, who: str, forms: Sequence[str] = ("pdf",), paper: str = "letter"
) -> ReviewFiles:
    """Return the files of a review; the audit log names camp, forms and build before they are handed out.

    A letter that no font has holds up the PDF only. Raises SummaryError where a form is not one of FORMS or where no
    form can be made.
    """
    unknown = [form for form in forms if form not in FORMS]
    if unknown or not forms:
        raise SummaryError(f"form {''.join(unknown[:1])!r} is not one of {', '.join(FORMS)}")
    made = make_each(_makers(root, review, paper), forms)
    reported = {
        "what": "camp review", "camp": review.camp_id, "forms": ", ".join(f for f in forms if f not in made.missing),
        "build": review.build_id,
    }  # fmt: skip
    audit.append(root, EVENT, who, reported)
    return made


def issue_outside(
    root: Path, review: CampReview, who: str, forms: Sequence[str] = ("pdf",), paper: str = "letter"
) -> ReviewFiles:
    """Return the files of the version of a review for outsiders, noted in the audit log before they are handed out.

    Raises SummaryError where a form is not one of OUTSIDE_FORMS, or there is nothing that outsiders may see.
    """
    unknown = [form for form in forms if form not in OUTSIDE_FORMS]
    if unknown or not forms:
        raise SummaryError(f"form {''.join(unknown[:1])!r} is not one of {', '.join(OUTSIDE_FORMS)}")
    outside = make_outside(review)
    stem = f"camp-outside_{file_stem(review.label)}_{review.build_id[:8]}"
    made = make_each(
        {
            "pdf": lambda: {f"{stem}.pdf": render_outside(outside, paper)},
            "csv": lambda: {
                f"{stem}_gains.csv": render_csv(OUTSIDE_GAIN_HEADS, gain_cells(review)),
                f"{stem}_parts.csv": render_csv(OUTSIDE_PART_HEADS, part_cells(review)),
            },
        },
        forms,
    )
    reported = {
        "what": "camp review for outsiders", "camp": review.camp_id,
        "forms": ", ".join(f for f in forms if f not in made.missing), "build": review.build_id,
    }  # fmt: skip
    audit.append(root, EVENT, who, reported)
    return made


def _makers(root: Path, review: CampReview, paper: str) -> dict[str, Callable[[], dict[str, bytes]]]:
    stem = f"camp-review_{file_stem(review.label)}_{review.build_id[:8]}"
    return {
        "pdf": lambda: {f"{stem}.pdf": render_pdf(make_page(review), review.made_on, paper)},
        "csv": lambda: {
            f"{stem}_gains.csv": render_csv(GAIN_HEADS, gain_rows(review)),
            f"{stem}_parts.csv": render_csv(PART_HEADS, part_rows(review)),
        },
        "xlsx": lambda: {f"{stem}.xlsx": render_xlsx(review, named_changes(root, review))},
    }


def make_each(makers: Mapping[str, Callable[[], dict[str, bytes]]], forms: Sequence[str]) -> ReviewFiles:
    """Each form made on its own, so that what one cannot set does not hold up the others."""
    files: dict[str, bytes] = {}
    missing: dict[str, str] = {}
    for form in forms:
        try:
            files |= makers[form]()
        except SummaryError as error:
            missing[form] = str(error)
    if not files:
        raise SummaryError(next(iter(missing.values())))
    return ReviewFiles(files=files, missing=missing)
