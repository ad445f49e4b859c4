"""The square code: read by an independent library at the size in which it is printed, and what it is checked against.

zxing-cpp is a reader of its own (C++), no part of the library that draws the code (segno).
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image, ImageFilter
from typer.testing import CliRunner

from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.pages.keys import signer
from latewood.pipeline.pages.record import read_record
from latewood.pipeline.pages.recruit import issue, pdf
from latewood.pipeline.pages.recruit.code import code_text, read_code
from latewood.pipeline.pages.recruit.issue import Issued, open_run
from latewood.pipeline.pages.recruit.page import make_page
from tests.conftest import Camp
from tests.pipeline.pages.sheets import made as sheet_made

FORMS = ("pdf", "html", "json", "csv", "sig")
PAPER_DPI = 100  # coarser than any printer or phone at reading distance: 26 mm are 102 pixels then


@pytest.fixture
def files(agreed: Camp, tmp_path: Path) -> dict[str, Path]:
    (one,) = issue.issue(open_run(agreed.root, "Ira", forms=FORMS), ["T1"])
    assert isinstance(one, Issued), one
    return {path.suffix[1:]: path for path in issue.write_files(tmp_path / "out", one)}


def _read(picture: Image.Image) -> list[str]:
    return [one.text for one in zxingcpp.read_barcodes(picture)]


@pytest.mark.parametrize("turned", [0, 7, 180])
def test_a_printed_sheet_is_read_by_another_library_even_blurred_and_turned(
    built_camp: Camp, turned: int
) -> None:
    summary = sheet_made(read_record(built_camp.root))
    page = make_page(summary)
    _, files = pdf._fitted(page, summary.provenance.made_on, "letter")
    first = pdf._compiler().compile(files, format="png", ppi=float(PAPER_DPI))
    picture = Image.open(io.BytesIO(first if isinstance(first, bytes) else first[0])).convert("L")
    assert picture.width == round(8.5 * PAPER_DPI)
    photo = picture.resize((picture.width * 2, picture.height * 2)).rotate(turned, expand=True, fillcolor=255)
    for seen in (photo, photo.filter(ImageFilter.GaussianBlur(1.2))):
        assert _read(seen) == [code_text(summary.provenance.page_hash, summary.provenance.fingerprint)]


def test_the_code_of_page_and_print_name_page_and_key_of_the_data(
    agreed: Camp, files: dict[str, Path]
) -> None:
    html = files["html"].read_text(encoding="utf-8")
    (drawing,) = re.findall(r'class="code">(<svg.*?</svg>)', html, re.S)
    assert 'role="img" aria-label="Square code' in drawing
    modules = _modules(drawing)
    picture = Image.new("L", (49, 49), 255)
    for x, y in modules:
        picture.putpixel((x, y), 0)
    (text,) = _read(picture.resize((49 * 4, 49 * 4), Image.Resampling.NEAREST))
    scanned = read_code(text)
    assert scanned.fingerprint == signer(agreed.root).fingerprint
    assert scanned.page_hash in files["json"].read_text(encoding="utf-8")
    assert scanned.page_hash in files["csv"].read_text(encoding="utf-8")


def _modules(drawing: str) -> list[tuple[int, int]]:
    """The dark squares of the SVG: strokes of one unit, drawn row by row with moves relative to the last point."""
    (path,) = re.findall(r'<path stroke="#000" d="([^"]+)"', drawing)
    result, x, y = [], 0.0, 0.0
    for kind, numbers in re.findall(r"([Mmh])([^Mmh]*)", path):
        given = [float(one) for one in re.findall(r"-?\d*\.?\d+", numbers)]
        if kind == "M":
            x, y = given
        elif kind == "m":
            x, y = x + given[0], y + given[1]
        else:
            result += [(int(x) + step, int(y)) for step in range(int(given[0]))]
            x += given[0]
    return result


def test_a_code_tells_its_own_page_from_any_other(agreed: Camp, files: dict[str, Path]) -> None:
    def run(*words: str) -> tuple[int, str]:
        result = CliRunner().invoke(app, ["verify", *words])
        return result.exit_code, " ".join(result.output.split())

    root = ("--data", str(agreed.root))
    page = re.search(r'"page_hash": "([0-9a-f]{64})"', files["json"].read_text(encoding="utf-8"))
    assert page is not None
    code = code_text(page[1], signer(agreed.root).fingerprint)
    for form in ("pdf", "html", "csv", "json"):
        _, words = run(str(files[form]), "--code", code)
        assert "is the page that the code names" in words, form
        assert "ask the program for the fingerprint" in words, form
    assert run(str(files["json"]), "--code", code_text("0" * 64, code[-64:]))[1].startswith(
        "unknown: the file is another"
    )
    assert run(str(files["json"]), "--code", code_text(page[1], "0" * 64))[1].startswith(
        "unknown: it is signed with an"
    )
    files["html"].write_bytes(files["html"].read_bytes().replace(b"sessions", b"sassions", 1))
    assert run(str(files["html"]), "--code", code) == (2, "edited: the file is not the one that was signed")
    assert run("--code", code, *root)[0] == 0
    assert "A code can be copied onto another sheet" in run("--code", code.lower(), *root)[1]
    assert "no page of this number" in run("--code", code_text("0" * 64, code[-64:]), *root)[1]
    assert "another key" in run("--code", code_text(page[1], "0" * 64), *root)[1]
    consent_book.withdraw(agreed.root, "T1", "Ira")
    assert run("--code", code, *root)[1].startswith("withdrawn: the page that the code names was issued")


@pytest.mark.parametrize(
    "text", ["", "LATEWOOD:1:AB:CD", "https://x.example", "LATEWOOD:2:" + "A" * 64 + ":" + "B" * 64]
)
def test_what_is_no_code_is_one_clear_error(text: str) -> None:
    with pytest.raises(SummaryError, match="is no code of a sheet"):
        read_code(text)
