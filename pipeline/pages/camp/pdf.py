"""The camp review as one printed sheet."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.pages.camp.outside import Outside
from latewood.pipeline.pages.camp.page import HEADS, CampPage
from latewood.pipeline.pages.typeset import Layout, SheetFullError, typeset
from latewood.pipeline.pages.words import count

SIZES = ((8.2, 2.8), (7.8, 2.4), (7.4, 2.0), (7.0, 1.6), (6.7, 1.3), (6.4, 1.0), (6.1, 0.8), (5.8, 0.6))
MOST_LINES = (22, 16, 10)
REVIEW = Layout(path="camp/camp.typ", sizes=SIZES, sheets=1)
OUTSIDE = Layout(path="camp/outside.typ", sizes=((10.0, 3.4), (9.4, 2.8), (9.0, 2.2)), sheets=1)


def render_pdf(page: CampPage, made_on: date, paper: str = "letter") -> bytes:
    """Return the review as a PDF of exactly one sheet; lines that do not fit are left out, and it says so.

    Raises SummaryError where even ten lines do not fit.
    """
    for most in (len(page.lines), *MOST_LINES):
        try:
            return _set(_cut(page, most), made_on, paper)
        except SheetFullError:
            continue
    raise SummaryError("the review does not fit on one sheet; take the tables instead")


def render_outside(made: Outside, paper: str = "letter") -> bytes:
    """Return the version for outsiders as a PDF of one sheet, or of two before any text is below 8 points."""
    content = {**asdict(made), "made_on": made.made_on.isoformat(), "title": f"{made.kind}: {made.name}"}
    try:
        return typeset(OUTSIDE, content, made.made_on, paper)
    except SheetFullError:
        return typeset(replace(OUTSIDE, sheets=2), content, made.made_on, paper)


def _set(page: CampPage, made_on: date, paper: str) -> bytes:
    content = {**asdict(page), "heads": HEADS, "title": f"Camp review: {page.name}"}
    return typeset(REVIEW, content, made_on, paper)


def _cut(page: CampPage, most: int) -> CampPage:
    """The page with its first lines only, in reading order; how many are left out is said."""
    left = len(page.lines) - most
    if left <= 0:
        return page
    text = f"{count(left, 'further line')} of measuring did not fit on this sheet: see the tables. {page.refused}"
    return replace(page, lines=page.lines[:most], refused=text.strip())
