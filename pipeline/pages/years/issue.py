"""Hands out the camps over the years: makes the files and notes the export in the audit log before they leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.pages.camp.issue import EVENT, FORMS, ReviewFiles, make_each
from latewood.pipeline.pages.camp.table import render_csv
from latewood.pipeline.pages.typeset import SheetFullError, Sheets, typeset
from latewood.pipeline.pages.words import count
from latewood.pipeline.pages.years.model import Years
from latewood.pipeline.pages.years.page import YearsPage, make_years_page
from latewood.pipeline.pages.years.tables import GAIN_HEADS, camp_heads, camp_rows, gain_rows, render_workbook

SIZES = ((8.4, 2.6), (7.8, 2.0), (7.2, 1.6), (6.6, 1.2), (6.2, 0.9))
MOST_ROWS = (15, 13, 12, 11, 10, 9, 8, 7, 5, 3)


def issue_years(
    root: Path, years: Years, who: str, forms: Sequence[str] = ("pdf",), paper: str = "letter"
) -> ReviewFiles:
    """Return the files; the audit log names forms, build and for whom before they are handed out.

    Raises SummaryError where a form is not one of FORMS, or there is nothing that outsiders may see.
    """
    unknown = [form for form in forms if form not in FORMS]
    if unknown or not forms:
        raise SummaryError(f"form {''.join(unknown[:1])!r} is not one of {', '.join(FORMS)}")
    if years.outside and not years.lines:
        raise SummaryError(
            "no measure has enough athletes in two camps, so there is nothing that outsiders may see"
        )
    stem = f"camps{'-outside' if years.outside else ''}_{years.build_id[:8]}"
    makers = {
        "pdf": lambda: {f"{stem}.pdf": render_years(years, paper)},
        "csv": lambda: {
            f"{stem}_gains.csv": render_csv(GAIN_HEADS, gain_rows(years)),
            f"{stem}_camps.csv": render_csv(camp_heads(years), camp_rows(years)),
        },
        "xlsx": lambda: {f"{stem}.xlsx": render_workbook(years)},
    }
    made = make_each(makers, forms)
    whom = " for outsiders" if years.outside else ""
    reported = {
        "what": f"camps over the years{whom}", "camps": ", ".join(camp.camp_id for camp in years.camps),
        "forms": ", ".join(form for form in forms if form not in made.missing), "build": years.build_id,
    }  # fmt: skip
    audit.append(root, EVENT, who, reported)
    return made


def render_years(years: Years, paper: str = "letter") -> bytes:
    """The page as a PDF of exactly one sheet; rows that do not fit are left out, and it says so."""
    page = make_years_page(years)
    for most in (len(page.rows), *MOST_ROWS):
        shown = _cut(page, most)
        content = {**asdict(shown), "title": f"{page.kind}: {page.name}"}
        try:
            return typeset(
                "years/years.typ", content, years.made_on, Sheets(paper=paper, most=1, sizes=SIZES)
            )
        except SheetFullError:
            continue
    raise SummaryError("the camps do not fit on one sheet; take the tables instead")


def _cut(page: YearsPage, most: int) -> YearsPage:
    """The page with its first rows only; how many are left out is said."""
    left = len(page.rows) - most
    if left <= 0:
        return page
    text = f"{count(left, 'further row')} did not fit on this sheet: see the tables. {page.once}"
    return replace(page, rows=page.rows[:most], once=text)
