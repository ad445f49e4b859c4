"""The page as a PDF: one sheet or two, tagged (PDF/UA-1), text selectable, fonts embedded, charts as vectors."""

from __future__ import annotations

import io
import json
from dataclasses import asdict
from datetime import UTC, date, datetime
from functools import cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING

from pypdf import PdfReader

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.pages.printer import printer
from latewood.pipeline.pages.recruit.page import HEAD_CAPTIONS, HEADS, Page

if TYPE_CHECKING:
    import typst

PAPERS = {"letter": "us-letter", "a4": "a4"}
# Text and row space in points, the roomiest first; the smallest words are 0.88 of the text and never below 8 points.
SIZES = ((10.2, 4.2), (9.8, 3.4), (9.4, 2.8), (9.1, 2.0))
SHEETS = 2


@cache
def _layout() -> bytes:
    return (files("latewood.pipeline.pages.recruit") / "page.typ").read_bytes()


@cache
def _compiler() -> typst.Compiler:
    """One compiler for all pages: fonts of ours first, those of the machine for scripts that ours lack."""
    library = printer()
    with as_file(files("latewood.pipeline.pages") / "fonts") as folder:
        made: typst.Compiler = library.Compiler(_layout(), font_paths=library.Fonts(font_paths=[str(folder)]))
    return made


def render_pdf(page: Page, made_on: date, paper: str = "letter") -> bytes:
    """Return the page as a PDF, 'letter' or 'a4': one sheet where it fits, else two; never smaller text than SIZES.

    The largest text that fits is taken. Raises SummaryError where two sheets are too few, or where neither our fonts
    nor the machine's have a letter of the text.
    """
    if paper not in PAPERS:
        raise SummaryError(f"paper {paper!r} is not one of {', '.join(PAPERS)}")
    return _fitted(page, made_on, paper)[0]


def render_pictures(page: Page, made_on: date, paper: str = "letter") -> tuple[bytes, ...]:
    """Return the same sheets as PNGs, to be looked at before they are issued."""
    inputs = _fitted(page, made_on, paper)[1]
    made = _compiler().compile(_layout(), format="png", ppi=110.0, sys_inputs=inputs)
    if made is None:
        raise SummaryError("the preview cannot be drawn; choose fewer measures")
    return (made,) if isinstance(made, bytes) else tuple(made)


def _fitted(page: Page, made_on: date, paper: str) -> tuple[bytes, dict[str, str]]:
    content = json.dumps({
        **asdict(page),
        "table_heads": HEADS,
        "captions": HEAD_CAPTIONS,
        "title": f"{page.kind}: {page.name}",
    })
    made: dict[int, tuple[bytes, dict[str, str], int]] = {}
    for sheets in range(1, SHEETS + 1):
        low, high = 0, len(SIZES)
        while low < high:  # the first of SIZES that fits: smaller text never needs more sheets
            at = (low + high) // 2
            if at not in made:
                size, inset = SIZES[at]
                inputs = {"page": content, "paper": PAPERS[paper], "size": str(size), "inset": str(inset)}
                pdf = _compiled(inputs, made_on)
                made[at] = (pdf, inputs, len(PdfReader(io.BytesIO(pdf)).pages))
            low, high = (low, at) if made[at][2] <= sheets else (at + 1, high)
        if low < len(SIZES):
            return made[low][:2]
    raise SummaryError(f"the page does not fit on {SHEETS} sheets; choose fewer measures")


def _compiled(inputs: dict[str, str], made_on: date) -> bytes:
    stamp = datetime(made_on.year, made_on.month, made_on.day, tzinfo=UTC)
    try:
        made, warnings = _compiler().compile_with_warnings(
            _layout(), format="pdf", sys_inputs=inputs, pdf_standards="ua-1", timestamp=stamp
        )
    except printer().TypstError as error:
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
