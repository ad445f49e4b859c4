"""Eight sheets of an invented camp go in by the desk of the Data page, with clicks and seconds counted."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.end_to_end.test_look_accept import BROKEN, fen_camp
from tests.look_camp import FAMILIES
from tests.tools.shots import serving

MOST_SECONDS, MOST_CLICKS = 600, 40


def choose(tab: Page, label: str, choice: str) -> int:
    """Answer one question by its select box; how many clicks it took."""
    box = tab.locator("[data-testid=stSelectbox]").filter(has_text=label).first.locator("input")
    box.click()
    box.fill(choice)
    tab.get_by_role("option", name=re.compile(f"^{re.escape(choice)}")).first.click()
    tab.locator("[data-testid=stApp][data-test-script-state=notRunning]").wait_for(timeout=120_000)
    return 2


def answer_all(tab: Page) -> int:
    """Answer every question of the families; how many clicks it took."""
    clicks = choose(tab, "Is '06/08/2032' in 'date' day first or month first?", "month first")
    clicks += choose(tab, "In which unit is 'Exit speed'?", "mph")
    clicks += choose(tab, "In which unit is 'Hex Bar'?", "lb")
    clicks += choose(tab, "In which unit is 'Bench'?", "lb")
    clicks += choose(tab, "Who is 'Perrin Vance'?", "L4")
    tab.get_by_role("button", name=re.compile("as proposed")).click()
    return clicks + 1


def test_eight_sheets_go_in_by_the_desk(tab: Page, tmp_path: Path, record_property) -> None:
    camp = fen_camp(tmp_path)
    families = [make() for make in FAMILIES]
    with serving(camp.root) as address:
        tab.goto(f"{address}/data")
        form = tab.locator("[data-testid=stForm]").filter(
            has=tab.get_by_role("button", name="Import", exact=True)
        )
        form.wait_for(timeout=180_000)
        begun = time.monotonic()
        files = [*((f.name, f.content) for f in families), BROKEN]
        sent = [{"name": n, "mimeType": "application/octet-stream", "buffer": c} for n, c in files]
        tab.locator("input[type=file]").set_input_files(files=sent)
        form.get_by_label("Your name").fill("Sage Fen")
        form.get_by_role("button", name="Import", exact=True).click()
        tab.get_by_text("Look before taking").wait_for(timeout=120_000)
        tab.get_by_text("broken.xlsx: cannot be opened as a workbook").wait_for(timeout=120_000)
        clicks = 3 + answer_all(tab)
        rest = tab.get_by_role("button", name=re.compile("as proposed"))
        rest.wait_for(state="detached", timeout=120_000)
        tab.screenshot(path=tmp_path / "desk.png", full_page=True)
        tab.get_by_role("button", name="Take the settled files").click()
        tab.get_by_text("season.xlsx: readings, 24 rows, imported").first.wait_for(timeout=300_000)
        seconds, clicks = time.monotonic() - begun, clicks + 1
    record_property("seconds", round(seconds))
    record_property("clicks", clicks)
    truth = {key: value for family in families for key, value in family.truth.items()}
    rows = camp.rows("select athlete_id, measure, measured_on, trial, value from reading")
    stored = {(a, m, day, trial): value for a, m, day, trial, value in rows}
    assert stored == {key: pytest.approx(value, rel=1e-9) for key, value in truth.items()}
    assert seconds < MOST_SECONDS and clicks <= MOST_CLICKS
