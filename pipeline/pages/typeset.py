"""Sets a layout of ours as a tagged PDF (PDF/UA-1) of at most so many sheets: the largest text that fits."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Any

from pypdf import PdfReader

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.pages.printer import printer
from latewood.pipeline.pages.recruit.pdf import PAPERS

if TYPE_CHECKING:
    import typst


@cache
def _compiler(layout: str) -> typst.Compiler:
    """One compiler a layout: the fonts shipped first, those of the machine for scripts that they lack."""
    library = printer()
    with as_file(files("latewood.pipeline.pages") / "fonts") as folder:
        made: typst.Compiler = library.Compiler(
            _text(layout), font_paths=library.Fonts(font_paths=[str(folder)])
        )
    return made


@cache
def _text(layout: str) -> bytes:
    return files("latewood.pipeline.pages").joinpath(*layout.split("/")).read_bytes()


class SheetFullError(SummaryError):
    """What was to be set does not fit even in the smallest text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheets:
    """What a page is set on: 'letter' or 'a4', at most so many sheets, text sizes and row spaces in points.

    The roomiest of the sizes comes first.
    """

    paper: str
    most: int
    sizes: Sequence[tuple[float, float]]


def typeset(layout: str, content: Mapping[str, Any], made_on: date, sheets: Sheets) -> bytes:
    """Return the PDF of a layout (a path below pipeline/pages) filled with content.

    Raises SheetFullError where even the last of the sizes does not fit on so many sheets, SummaryError where a letter
    is in no font.
    """
    paper, sizes, most = sheets.paper, sheets.sizes, sheets.most
    if paper not in PAPERS:
        raise SummaryError(f"paper {paper!r} is not one of {', '.join(PAPERS)}")
    page = json.dumps(dict(content), ensure_ascii=False)
    fitting: bytes | None = None
    low, high = 0, len(sizes)
    while low < high:  # smaller text never needs more sheets
        at = (low + high) // 2
        size, space = sizes[at]
        inputs = {"page": page, "paper": PAPERS[paper], "size": str(size), "inset": str(space)}
        made = _compiled(layout, inputs, made_on)
        if len(PdfReader(io.BytesIO(made)).pages) <= most:
            fitting, high = made, at
        else:
            low = at + 1
    if fitting is None:
        raise SheetFullError(f"the page does not fit on {most} sheet{'s' if most > 1 else ''} of {paper}")
    return fitting


def _compiled(layout: str, inputs: dict[str, str], made_on: date) -> bytes:
    stamp = datetime(made_on.year, made_on.month, made_on.day, tzinfo=UTC)
    try:
        made, warnings = _compiler(layout).compile_with_warnings(
            _text(layout), format="pdf", sys_inputs=inputs, pdf_standards="ua-1", timestamp=stamp
        )
    except printer().TypstError as error:
        raise SummaryError(f"the PDF cannot be made ({error.message})") from error
    if warnings or not isinstance(made, bytes):
        text = "; ".join(one.message for one in warnings) or "no file"
        raise SummaryError(f"the PDF cannot be made as it should be ({text})")
    return made
