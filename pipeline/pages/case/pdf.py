"""The case of a stay as one printed sheet."""

from __future__ import annotations

from dataclasses import asdict

from latewood.pipeline.pages.case.page import CasePage
from latewood.pipeline.pages.typeset import Sheets, typeset

SIZES = (
    (10.5, 4.0), (10.0, 3.6), (9.5, 3.2), (9.0, 2.8), (8.6, 2.4), (8.2, 2.0), (7.8, 1.6), (7.4, 1.2), (7.0, 0.8),
    (6.6, 0.6),
)  # fmt: skip


def render_pdf(page: CasePage, paper: str = "letter") -> bytes:
    """Return the page as a PDF of exactly one sheet; raises SheetFullError where it does not fit."""
    content = {**asdict(page), "made_on": "", "title": f"{page.kind}: {page.name}"}
    return typeset("case/case.typ", content, page.made_on, Sheets(paper=paper, most=1, sizes=SIZES))
