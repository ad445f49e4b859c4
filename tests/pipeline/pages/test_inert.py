"""Hostile names and texts in everything that leaves: no formula, no markup, no command of the printer, in any form."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY, Consents
from latewood.pipeline.ingest.consent.stated import LABELS, Statement
from latewood.pipeline.pages.camp import outside, table
from latewood.pipeline.pages.camp.make import make_review
from latewood.pipeline.pages.camp.model import CampReview
from latewood.pipeline.pages.camp.page import make_page as make_review_page
from latewood.pipeline.pages.camp.pdf import render_outside
from latewood.pipeline.pages.camp.pdf import render_pdf as render_review
from latewood.pipeline.pages.case.issue import CaseOrder, case_of
from latewood.pipeline.pages.case.page import CasePage
from latewood.pipeline.pages.case.pdf import render_pdf as render_case
from latewood.pipeline.pages.family.forms import render_pdf as render_family
from latewood.pipeline.pages.family.forms import render_web as render_family_web
from latewood.pipeline.pages.family.issue import family_of
from latewood.pipeline.pages.family.model import Family
from latewood.pipeline.pages.family.page import make_page as make_family_page
from latewood.pipeline.pages.record import read_record
from latewood.pipeline.pages.recruit.data import render_csv
from latewood.pipeline.pages.recruit.model import Summary
from latewood.pipeline.pages.recruit.page import make_page
from latewood.pipeline.pages.recruit.pdf import render_pdf
from latewood.pipeline.pages.recruit.web import render_web
from tests.conftest import Camp
from tests.pipeline.pages.camp_record import camp_record
from tests.pipeline.pages.conftest import GIVEN
from tests.pipeline.pages.sheets import made

ON = date(2032, 8, 20)
STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", " =", "\u00a0=", "\uff1d", "%", "|")
TAILS = (
    "HYPERLINK(1)", "cmd|' /C calc'!A0", "#eval(1)", "#read(\"/etc/passwd\")", "$x^2$", "_a_ *b*",
    "<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "\"><svg onload=x>", "\\u{41}", "]]>", "{{x}}", "`a`",
    "https://x.example", "a\tb", "a,b;c", "'quoted", "//", "@import",
)  # fmt: skip
# Words that the code looks up or that are drawings of ours: everything else that is text becomes hostile.
KEPT = {
    "key",
    "better",
    "units",
    "schema",
    "kind",
    "chart",
    "chart_alt",
    "page_hash",
    "serial",
    "fingerprint",
    "field",
}
NUMBER = re.compile(r"-?\d+(\.\d+)?(e-?\d+)?")
hostile = st.builds(lambda start, tail: start + tail, st.sampled_from(STARTS), st.sampled_from(TAILS))


def poisoned(value: Any, text: str) -> Any:
    """The value with every text in it hostile, but those that the code looks up."""
    if is_dataclass(value) and not isinstance(value, type):
        changed = {
            f.name: poisoned(getattr(value, f.name), text) for f in fields(value) if f.name not in KEPT
        }
        return replace(value, **changed)
    if isinstance(value, tuple):
        return tuple(poisoned(one, text) for one in value)
    return text if isinstance(value, str) and value else value


def formulas(cells: list[str]) -> list[str]:
    """The cells that a spreadsheet would take for a formula: what no number is and begins like one."""
    first = ("=", "+", "-", "@", "\t", "\r", "\n", "%", "|", "\uff1d", "\uff0b", "\uff0d", "\uff20")
    return [one for one in cells if one.lstrip(" \u00a0").startswith(first) and not NUMBER.fullmatch(one)]


def cells_of(content: str) -> list[str]:
    return [cell for row in csv.reader(io.StringIO(content, newline="")) for cell in row]


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.seen: Counter[str] = Counter()
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen[tag] += 1
        self.attributes |= {name for name, _ in attrs}


def tags(content: str) -> _Tags:
    reader = _Tags()
    reader.feed(content)
    return reader


@pytest.fixture(scope="session")
def summary(built_camp: Camp) -> Summary:
    stated = tuple(
        Statement(field=one, text="a", stated_on=GIVEN.given_on, until=GIVEN.expires_on) for one in LABELS
    )
    return made(read_record(built_camp.root), stated=stated)


@pytest.fixture(scope="session")
def review() -> CampReview:
    return make_review(camp_record())


@pytest.fixture(scope="session")
def family(built_camp: Camp) -> Family:
    agreed = replace(GIVEN, purpose=FAMILY)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            consent_book,
            "standing",
            lambda *_, **__: Consents(by_athlete={"T1": agreed}, unreadable=frozenset()),
        )
        return family_of(read_record(built_camp.root), "T1")


@pytest.fixture(scope="session")
def case(built_camp: Camp) -> CasePage:
    return case_of(built_camp.root, "T1", CaseOrder())


@settings(max_examples=40, deadline=None)
@given(text=hostile)
def test_no_table_that_leaves_has_a_formula(summary: Summary, review: CampReview, text: str) -> None:
    sheet, camp = poisoned(summary, text), poisoned(review, text)
    tables: Mapping[str, str] = {
        "sheet": render_csv(sheet),
        "gains": table.render_csv(table.GAIN_HEADS, table.gain_rows(camp)).decode("utf-8-sig"),
        "parts": table.render_csv(table.PART_HEADS, table.part_rows(camp)).decode("utf-8-sig"),
        "gains for outsiders": table.render_csv(table.GAIN_HEADS, outside.gain_cells(camp)).decode(
            "utf-8-sig"
        ),
        "parts for outsiders": table.render_csv(table.PART_HEADS, outside.part_cells(camp)).decode(
            "utf-8-sig"
        ),
    }
    for name, content in tables.items():
        assert formulas(cells_of(content)) == [], name
    assert f"'{text}" in cells_of(tables["gains"])  # the text is there, as text
    assert f"'{text}" in cells_of(tables["sheet"])
    book = openpyxl.load_workbook(io.BytesIO(table.render_xlsx(camp)))
    cells = [cell for page in book for row in page.iter_rows() for cell in row if cell.value is not None]
    assert {cell.data_type for cell in cells} <= {"s", "n"}
    assert formulas([cell.value for cell in cells if cell.data_type == "s"]) == []


@settings(max_examples=40, deadline=None)
@given(text=hostile)
def test_no_web_page_that_leaves_has_a_tag_of_a_text(summary: Summary, family: Family, text: str) -> None:
    pages: tuple[tuple[Any, Callable[[Any], str]], ...] = (
        (summary, lambda one: render_web(make_page(one))),
        (family, lambda one: render_family_web(make_family_page(one))),
    )
    for page, render in pages:
        plain, attacked = tags(render(poisoned(page, "a"))), tags(render(poisoned(page, text)))
        assert (attacked.seen, attacked.attributes) == (plain.seen, plain.attributes)
        assert not [name for name in attacked.attributes if name.startswith("on") or name in {"href", "src"}]


@pytest.mark.parametrize(
    "tail", ["#eval(1) $x$ _a_ *b* `c` ", '#read("/etc/passwd") <b>', "\\u{41} ]] @a <b-c>"]
)
def test_no_print_that_leaves_runs_a_text(
    summary: Summary, review: CampReview, family: Family, case: CasePage, tail: str
) -> None:
    """What is typed is what is printed, sign for sign, and no sheet has a link, a script or a file in it."""
    text = f"={tail}".strip()
    prints = {
        "sheet": render_pdf(make_page(replace(summary, person=poisoned(summary.person, text))), ON),
        "review": render_review(make_review_page(replace(review, label=text)), ON),
        "outsiders": render_outside(outside.make_outside(replace(review, label=text))),
        "family": render_family(make_family_page(replace(family, name=text, camp=text)), ON),
        "case": render_case(replace(case, name=text, facts=text)),
    }
    wanted = "".join(text.split())
    for name, content in prints.items():
        book = PdfReader(io.BytesIO(content))
        assert wanted in "".join("".join(page.extract_text() for page in book.pages).split()), name
        assert not [page for page in book.pages if "/Annots" in page], name
        assert not {"/OpenAction", "/AA", "/Names"} & set(book.trailer["/Root"].keys()), name


def test_no_module_writes_a_table_or_a_web_page_that_is_not_tried_here() -> None:
    root = Path(__file__).parents[3] / "pipeline"
    writes = re.compile(
        r"csv\.(?:Dict)?writer\(|csv\.DictWriter\(|Workbook\(\)|<!DOCTYPE|to_csv\(|to_excel\("
    )
    named = {
        str(path.relative_to(root))
        for path in root.rglob("*.py")
        if writes.search(path.read_text(encoding="utf-8"))
    }
    # lands a form; writes numbers only; write a landed file again with fewer cells
    others = {"ingest/consent/consent_book.py", "cli/scale.py", "care/erase_files.py", "care/erase_sides.py"}
    assert named - others == {
        "pages/recruit/data.py", "pages/recruit/web.py", "pages/camp/table.py", "pages/family/forms.py",
        "pages/workbook.py",
    }  # fmt: skip
