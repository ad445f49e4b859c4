"""One athlete at a time: by keyboard alone, and with the server away: what was typed is in the log once."""

from __future__ import annotations

import json
import re
import shutil
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.test_every_screen import STREAMLITS_OWN, show
from tests.tools.shots import free_port, served

KEPT = "localStorage.getItem('latewood.waiting.v1')"
FIELD = ".pad input"


@pytest.fixture
def folder(demo_root: Path, tmp_path: Path) -> Iterator[Path]:
    yield Path(shutil.copytree(demo_root, tmp_path / "data"))


def logged(folder: Path) -> list[dict[str, str]]:
    paths = sorted((folder / "entries").glob("*.jsonl"))
    return [json.loads(line) for path in paths for line in path.read_text(encoding="utf-8").splitlines()]


def begin(tab: Page, address: str) -> None:
    show(tab, f"{address}/weighin")
    tab.get_by_label("Your name").fill("Odalys Fen")
    tab.get_by_label("Your name").press("Tab")
    tab.locator(FIELD).wait_for(timeout=60_000)


def names_typed(tab: Page, *values: str) -> list[str]:
    """Number, Enter, number, Enter; for whom each was."""
    names = []
    for value in values:
        names.append(tab.locator(".pad .name").inner_text())
        tab.keyboard.type(value)
        tab.keyboard.press("Enter")
    return names


def all_sent(tab: Page) -> None:
    """Wait until nothing is kept; a question about a value is answered as by somebody who read the scale again."""
    for _ in range(60):
        if tab.evaluate(KEPT) is None:
            return
        if tab.get_by_role("button", name="Look").count():
            tab.get_by_role("button", name="Look").first.click()
            tab.get_by_role("button", name="It is right, save it").click()
        tab.wait_for_timeout(1_000)
    raise AssertionError(tab.locator(".pad").inner_text())


def test_what_is_typed_while_the_server_is_away_is_saved_once_when_it_is_back(
    tab: Page, folder: Path
) -> None:
    port = free_port()
    with served(folder, port) as (address, _):
        begin(tab, address)
        tab.locator(FIELD).click()
        names_typed(tab, "150.0")
        tab.get_by_text(re.compile("Saved today: 1 of|one question")).first.wait_for(timeout=30_000)
    names = names_typed(tab, "151.0", "152.0")
    assert len(set(names)) == 2
    tab.get_by_text("2 waiting to be sent.").wait_for(timeout=30_000)
    assert "masses too" in tab.locator(".pad .waiting").inner_text()
    before = Counter(one["value"] for one in logged(folder))
    assert not before.keys() & {"151.0", "152.0"}
    tab.wait_for_timeout(8_000)  # Streamlit's own dialog has come by now, and is closed again
    assert tab.get_by_role("dialog").count() == 0
    with served(folder, port):
        all_sent(tab)
        show(tab, f"{address}/weighin")  # a page opened anew sends nothing again
        tab.wait_for_timeout(4_000)
    count = Counter(one["value"] for one in logged(folder))
    assert [count[value] for value in ("151.0", "152.0")] == [1, 1]
    assert all(one["by"] == "Odalys Fen" for one in logged(folder))


def test_a_station_by_keyboard_with_skip_absence_and_the_one_before(tab: Page, folder: Path) -> None:
    with served(folder) as (address, _):
        begin(tab, address)
        main = tab.locator("[data-testid=stMain]")
        assert not re.search(r"last \d|\d\d\.\d", main.inner_text())  # no mass of anybody
        tab.locator(FIELD).click()
        first = tab.locator(".pad .name").inner_text()
        tab.get_by_role("button", name="Skip").click()
        second = tab.locator(".pad .name").inner_text()
        tab.get_by_role("button", name="Cannot test today").click()
        tab.get_by_role("button", name="injured", exact=True).click()
        tab.get_by_text("Cannot today: 1.").first.wait_for(timeout=30_000)
        tab.get_by_role("button", name="The one before").click()
        assert tab.locator(".pad .name").inner_text() == second != first
        assert "cannot test today: injured" in tab.locator(".pad").inner_text()
        result = Axe().run(tab).response["violations"]
        assert [
            one["id"] for one in result if one["id"] not in STREAMLITS_OWN and one["impact"] != "moderate"
        ] == []
        tab.get_by_text("Everybody", exact=True).click()
        tab.get_by_text("Cannot test today: 1").wait_for(timeout=30_000)
    (note,) = logged(folder)
    assert (note["absent"], note["value"], note["by"]) == ("injured", "", "Odalys Fen")
