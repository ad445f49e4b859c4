"""The page as a PDF: one sheet or two, tagged (PDF/UA-1), text selectable, fonts embedded, charts as vectors."""

from __future__ import annotations

import io
import json
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import asdict
from datetime import UTC, date, datetime
from functools import cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Any

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
FEW_ROWS = 6  # with three large measures four rows are too many for one sheet, even in the smallest text
# Lines of table and notes that a sheet holds in the first two sizes, found on the demo's pages; characters of a line.
LINES_HELD = {"letter": (59.5, 63.9), "a4": (61.5, 65.9)}
CELL, NOTE = 24, 115


@cache
def _layout() -> bytes:
    return (files("latewood.pipeline.pages.recruit") / "page.typ").read_bytes()


@cache
def _compiler() -> typst.Compiler:
    """One compiler for all pages: fonts of ours first, those of the machine for scripts that ours lack."""
    library = printer()
    with as_file(files("latewood.pipeline.pages") / "fonts") as folder:
        made: typst.Compiler = library.Compiler(font_paths=library.Fonts(font_paths=[str(folder)]))
    return made


def render_pdf(page: Page, made_on: date, paper: str = "letter") -> bytes:
    """Return the page as a PDF, 'letter' or 'a4': one sheet where it fits, else two; never smaller text than SIZES.

    One sheet takes the largest text that fits, two that which their length lets expect. Raises SummaryError where two
    sheets are too few, or where neither our fonts nor the machine's have a letter of the text.
    """
    if paper not in PAPERS:
        raise SummaryError(f"paper {paper!r} is not one of {', '.join(PAPERS)}")
    return _fitted(page, made_on, paper)[0]


def render_pictures(page: Page, made_on: date, paper: str = "letter") -> tuple[bytes, ...]:
    """Return the same sheets as PNGs, to be looked at before they are issued."""
    made = _compiler().compile(_fitted(page, made_on, paper)[1], format="png", ppi=110.0)
    if made is None:
        raise SummaryError("the preview cannot be drawn; choose fewer measures")
    return (made,) if isinstance(made, bytes) else tuple(made)


def _fitted(page: Page, made_on: date, paper: str) -> tuple[bytes, Any]:
    """The PDF, and the files that it was made of (not inputs: with other inputs the whole library is made anew)."""
    words = {
        **asdict(page),
        "table_heads": HEADS,
        "captions": HEAD_CAPTIONS,
        "title": f"{page.kind}: {page.name}",
        "paper": PAPERS[paper],
    }
    for sheets, (size, inset) in _tries(page, paper):
        content = json.dumps({**words, "size": size, "inset": inset}).encode()
        files = {"main.typ": _layout(), "page.json": content}
        pdf = _compiled(files, made_on)
        if len(PdfReader(io.BytesIO(pdf)).pages) <= sheets:
            return pdf, files
    raise SummaryError(f"the page does not fit on {SHEETS} sheets; choose fewer measures")


def _tries(page: Page, paper: str) -> Iterator[tuple[int, tuple[float, float]]]:
    """How many sheets in which of SIZES, in the order in which they are tried: most pages are set once.

    One sheet is tried in every size where the rows are few. Of two the second, which holds the table, is the fuller.
    """
    if len(page.rows) <= FEW_ROWS:
        yield from ((1, size) for size in SIZES)
    yield from ((SHEETS, size) for size in SIZES[bisect_left(LINES_HELD[paper], _second_sheet(page)) :])


def _second_sheet(page: Page) -> float:
    """About how many lines table and notes take."""
    rows = (
        max(
            1.4 + sum(_lines(words, CELL) for words in cell.quiet) + len(cell.strong) // 20
            for cell in row.cells
        )
        + _lines(row.note, NOTE)
        for row in page.rows
    )
    return sum(rows) + sum(_lines(words, NOTE) for words in (*page.notes, page.contact, *page.provenance))


def _lines(words: str, width: int) -> int:
    return -(-len(words) // width)


def _compiled(files: Any, made_on: date) -> bytes:  # noqa: ANN401  names to bytes, which the library's types lack
    stamp = datetime(made_on.year, made_on.month, made_on.day, tzinfo=UTC)
    try:
        made, warnings = _compiler().compile_with_warnings(
            files, format="pdf", pdf_standards="ua-1", timestamp=stamp
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
