"""The web pages that leave, at the widths of a phone, a large phone and a tablet: nothing narrow, nothing beyond."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY
from latewood.pipeline.pages.family.issue import issue_family
from latewood.pipeline.pages.handout import Handout
from latewood.pipeline.pages.record import read_record
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.issue import Issued, open_run
from tests.conftest import Camp
from tests.pipeline.pages.conftest import GIVEN, agreed, built_camp, heath
from tests.pipeline.pages.sheet_reader import answer_for, read_heads

__all__ = ["agreed", "built_camp", "heath"]

MEASURED = """() => {
  const texts = [...document.querySelectorAll('th, td, p, li, h1, h2, h3, b, span, footer')].filter(e => {
    const box = e.getBoundingClientRect();
    return e.textContent.trim() && box.height > 2 && !e.closest('thead');
  });
  const size = e => parseFloat(getComputedStyle(e).fontSize);
  const heads = texts.filter(e => e.matches('td')).map(e => parseFloat(getComputedStyle(e, '::before').fontSize));
  return {
    beyond: document.documentElement.scrollWidth - document.documentElement.clientWidth,
    narrowest: Math.min(...texts.filter(e => e.matches('th, td, p, li')).map(e => e.getBoundingClientRect().width)),
    smallest: Math.min(...texts.map(size), ...heads),
    height: document.documentElement.scrollHeight,
  };
}"""


@pytest.mark.parametrize("width", [360, 390, 768])
def test_no_column_is_narrow_and_nothing_is_beyond_the_edge(
    agreed: Camp, machine_browser: Browser, tmp_path: Path, width: int
) -> None:
    (made,) = issue.issue(open_run(agreed.root, "Ira", forms=("html",)), ("T1",))
    assert isinstance(made, Issued)
    consent_book.record(agreed.root, replace(GIVEN, purpose=FAMILY), "Ira")
    family = issue_family(read_record(agreed.root), "T1", "Ira", Handout(forms=("html",))).files
    for name, content, most in [(n, c, 5600) for n, c in made.files.items()] + [
        (n, c, 3200) for n, c in family.items()
    ]:
        path = tmp_path / name
        path.write_bytes(content)
        page = machine_browser.new_page(viewport={"width": width, "height": 800})
        page.goto(path.as_uri())
        result = page.evaluate(MEASURED)
        shown = page.locator("main").inner_text()
        page.close()
        if name in made.files:  # what stands large can be read off the phone alone
            answers = read_heads(shown)
            assert len(answers) == 4
            assert answer_for(answers, "Exit speed").best.endswith(" mph")
            assert all(one.method and one.change_more and one.standing for one in answers.values())
        assert result["beyond"] == 0, (name, result)
        assert result["narrowest"] >= 100, (name, result)
        assert result["smallest"] >= 12, (name, result)
        assert result["height"] <= most, (name, result)
