"""The case of a stay as one printed sheet."""

from __future__ import annotations

from dataclasses import asdict

from latewood.pipeline.pages.case.page import CasePage
from latewood.pipeline.pages.typeset import SheetFullError, Sheets, typeset

SIZES = ((10.5, 4.0), (10.0, 3.6), (9.5, 3.2), (9.0, 2.8), (8.6, 2.4), (8.2, 2.0))  # points; never under 8


def render_pdf(page: CasePage, paper: str = "letter") -> bytes:
    """Return the page as a PDF of one sheet, or of two before its type is under 8 points.

    Raises SheetFullError where two do not hold it.
    """
    content = {**asdict(page), "made_on": "", "title": f"{page.kind}: {page.name}"}
    try:
        return typeset("case/case.typ", content, page.made_on, Sheets(paper=paper, most=1, sizes=SIZES))
    except SheetFullError:
        return typeset("case/case.typ", content, page.made_on, Sheets(paper=paper, most=2, sizes=SIZES))
