"""The page as a PDF: one sheet, tagged (PDF/UA-1), text selectable, fonts embedded, charts as vectors."""

from __future__ import annotations

import io
import json
from dataclasses import asdict
from datetime import UTC, date, datetime
from functools import cache
from importlib.resources import as_file, files

import typst
from pypdf import PdfReader

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.pages.recruit.page import HEADS, Page

PAPERS = {"letter": "us-letter", "a4": "a4"}
# Text and row space in points, the roomiest first.
SIZES = (
    (9.2, 5.0), (9.0, 4.2), (8.6, 3.6), (8.3, 3.2), (8.0, 2.8), (7.7, 2.6), (7.4, 2.2), (7.0, 1.7), (6.6, 1.3),
)  # fmt: skip


@cache
def _layout() -> bytes:
    return (files("latewood.pipeline.pages.recruit") / "page.typ").read_bytes()


@cache
def _compiler() -> typst.Compiler:
    """One compiler for all pages: fonts of ours first, those of the machine for scripts that ours lack."""
    with as_file(files("latewood.pipeline.pages") / "fonts") as folder:
        return typst.Compiler(_layout(), font_paths=typst.Fonts(font_paths=[str(folder)]))


def render_pdf(page: Page, made_on: date, paper: str = "letter") -> bytes:
    """Return the page as a PDF of exactly one sheet, 'letter' or 'a4'.

    The largest text that fits is taken. Raises SummaryError where even the smallest does not fit, or where
    neither our fonts nor the machine's have a letter of the text.
    """
    if paper not in PAPERS:
        raise SummaryError(f"paper {paper!r} is not one of {', '.join(PAPERS)}")
    return _fitted(page, made_on, paper)[0]


def render_picture(page: Page, made_on: date, paper: str = "letter") -> bytes:
    """Return the same sheet as a PNG, to be looked at before it is issued."""
    inputs = _fitted(page, made_on, paper)[1]
    made = _compiler().compile(_layout(), format="png", ppi=110.0, sys_inputs=inputs)
    if not isinstance(made, bytes):
        raise SummaryError("the preview cannot be drawn; choose fewer measures")
    return made


def _fitted(page: Page, made_on: date, paper: str) -> tuple[bytes, dict[str, str]]:
    content = json.dumps({**asdict(page), "heads": HEADS, "title": f"{page.kind}: {page.name}"})
    fitting: tuple[bytes, dict[str, str]] | None = None
    low, high = 0, len(SIZES)
    while low < high:  # the first of SIZES that fits: smaller text never needs more sheets
        at = (low + high) // 2
        size, inset = SIZES[at]
        inputs = {"page": content, "paper": PAPERS[paper], "size": str(size), "inset": str(inset)}
        made = _compiled(inputs, made_on)
        if len(PdfReader(io.BytesIO(made)).pages) == 1:
            fitting, high = (made, inputs), at
        else:
            low = at + 1
    if fitting is None:
        raise SummaryError("the page does not fit on one sheet; choose fewer measures")
    return fitting


def _compiled(inputs: dict[str, str], made_on: date) -> bytes:
    stamp = datetime(made_on.year, made_on.month, made_on.day, tzinfo=UTC)
    try:
        made, warnings = _compiler().compile_with_warnings(
            _layout(), format="pdf", sys_inputs=inputs, pdf_standards="ua-1", timestamp=stamp
        )
    except typst.TypstError as error:
        raise SummaryError(
            f"the PDF cannot be made ({error.message}); write the name in letters of the page's fonts (name_shown)"
        ) from error
    if warnings or not isinstance(made, bytes):
        text = "; ".join(w.message for w in warnings) or "no file"
        raise SummaryError(f"the PDF cannot be made as it should be ({text})")
    return made


def pdf_text(content: bytes) -> str:
    """The text of a PDF as a reader selects it, in the order of the file."""
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
