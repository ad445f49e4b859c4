"""How the scenarios look at a screen: open it, wait until it is drawn, read its words as a person would."""

from __future__ import annotations

import re
from contextlib import closing
from pathlib import Path
from typing import Any

from playwright.sync_api import Locator, Page

from latewood.pipeline.warehouse.connection import open_published

POUND = 0.45359237  # kg, exactly: NIST Special Publication 811, appendix B.8
MILE_PER_HOUR = 0.44704  # m/s, exactly: the same
DONE = (
    "document.querySelector('[data-testid=stApp]')?.dataset.testScriptState === 'notRunning'"
    " && !document.querySelector('[data-testid=stSkeleton],[data-stale=true]')"
)


def plain(text: str) -> str:
    """The text on one line, with one kind of blank and of minus."""
    return re.sub(r"\s+", " ", text.replace("\u2212", "-"))


def settle(tab: Page) -> None:
    """Wait until the script has run and nothing on the page is left from before."""
    tab.wait_for_timeout(150)
    tab.wait_for_function(DONE, timeout=60_000)


def look(tab: Page, url: str, words: str) -> str:
    """Everything that stands on a screen once these words are there."""
    tab.goto(url)
    tab.get_by_text(words).first.wait_for(timeout=60_000)
    settle(tab)
    return read(tab)


def read(tab: Page) -> str:
    """What stands on the screen now, the exact statement below each plain line too."""
    tab.evaluate("document.querySelectorAll('details.lw-exact').forEach(one => { one.open = true; })")
    return plain(tab.locator("[data-testid=stMain]").inner_text())


def between(text: str, start: str, end: str) -> str:
    """What is written from one heading to the next."""
    assert start in text, f"“{start}” is not on the screen"
    return text.split(start, 1)[1].split(end, 1)[0]


def lines_of(place: Locator) -> list[str]:
    """The words of each of these parts of a page."""
    return [plain(text) for text in place.all_inner_texts()]


def metric(tab: Page) -> None:
    """Turn the page to kilograms and metres."""
    tab.get_by_text("Metric", exact=True).click()
    settle(tab)


def asked(root: Path, query: str, **given: Any) -> dict[str, Any]:
    """The one row that the published build holds, to be compared with what the screen says."""
    with closing(open_published(root)) as connection:
        rows = connection.execute(query, given).df().to_dict("records")
    assert len(rows) == 1, f"{len(rows)} rows for: {query}"
    return rows[0]
