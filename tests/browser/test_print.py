"""The athlete page on paper: printed to PDF by the browser, its sheets counted and its words read."""

from __future__ import annotations

import io

import pytest
from playwright.sync_api import Page
from pypdf import PdfReader

from tests.browser.test_every_screen import show

HEADS = {
    "": "Changed for sure",
    "changes": "What changed",
    "time": "On one time axis",
    "ahead": "Where this may go",
    "movement": "Order and timing",
    "all": "Since intake, since the last review",
}
MOST = 2


@pytest.mark.parametrize("section", HEADS)
def test_the_athlete_page_is_at_most_two_sheets(
    tab: Page, address: str, athlete_id: str, section: str
) -> None:
    show(tab, f"{address}/athlete?athlete={athlete_id}&section={section}")
    tab.get_by_text(HEADS[section]).first.wait_for(timeout=60_000)
    tab.emulate_media(media="print")
    for paper in ("Letter", "A4"):
        sheets = PdfReader(io.BytesIO(tab.pdf(format=paper, print_background=True))).pages
        text = " ".join(sheet.extract_text() for sheet in sheets)
        assert len(sheets) <= (MOST if section else 1), (section, paper)
        assert HEADS[section] in text
        for off in ("Previous:", "Case of the stay", "Metric", "Similar builds"):
            assert off not in text
