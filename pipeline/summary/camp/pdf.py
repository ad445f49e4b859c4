"""The camp review as one printed sheet."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date

from pipeline.summary.camp.page import HEADS, CampPage
from pipeline.summary.typeset import typeset

SIZES = ((8.2, 2.8), (7.8, 2.4), (7.4, 2.0), (7.0, 1.6), (6.7, 1.3), (6.4, 1.0), (6.1, 0.8), (5.8, 0.6))


def render_pdf(page: CampPage, made_on: date, paper: str = "letter") -> bytes:
    """Return the review as a PDF of exactly one sheet; raises SummaryError where it does not fit."""
    content = {**asdict(page), "heads": HEADS, "title": f"Camp review: {page.name}"}
    return typeset("camp/camp.typ", content, made_on, paper=paper, sizes=SIZES, sheets=1)
