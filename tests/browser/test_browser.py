"""In a real browser: no request leaves the machine, deep links, the units switch, light and dark, axe."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import pytest
from playwright.sync_api import Page

from latewood.pipeline.pages.recruit.verify import verify

SCREENS = ("", "cohorts", "athlete", "plans", "data")
INVENTED = "Invented data: no person here is real"


def open_page(tab: Page, url: str, *, words: str = INVENTED) -> None:
    tab.goto(url)
    tab.get_by_text(words).first.wait_for(timeout=60_000)
    tab.wait_for_function(
        "!document.querySelector('[data-testid=stStatusWidget],[data-testid=stSkeleton]')", timeout=60_000
    )
    tab.wait_for_timeout(700)


def test_no_request_leaves_the_machine(tab, address, athlete_id, behind) -> None:
    requested: list[str] = []
    tab.on("request", lambda request: requested.append(request.url))
    tab.on("websocket", lambda socket: requested.append(socket.url))
    query = urlencode({"camp": behind[0], "measure": behind[1]})
    for path in (*SCREENS, f"athlete?athlete={athlete_id}&section=all", f"behind?{query}"):
        open_page(tab, f"{address}/{path}")
    hosts = {urlsplit(url).hostname for url in requested if not url.startswith(("data:", "blob:"))}
    assert hosts == {"127.0.0.1"}
    assert len(requested) > 20


def test_a_deep_link_shows_the_athlete_and_his_rails(tab, address, athlete_id) -> None:
    open_page(tab, f"{address}/athlete?athlete={athlete_id}&section=all", words="What changed")
    assert tab.locator(".lw-sheet .lw-pic").count() > 3
    assert tab.locator("canvas, .vega-embed svg").count() >= 3


@pytest.mark.parametrize("screen", ["monday", "data"])
def test_a_screen_answers_to_its_name(tab, address, screen) -> None:
    open_page(tab, f"{address}/{screen}")
    assert tab.locator("h2").first.inner_text().strip() == screen.capitalize()
    assert tab.get_by_role("dialog").count() == 0


def test_an_unknown_athlete_says_so(tab, address) -> None:
    open_page(tab, f"{address}/athlete?athlete=nobody")
    assert tab.get_by_text("No athlete with the id “nobody”").is_visible()


def test_the_units_switch_holds_from_screen_to_screen(tab, address) -> None:
    open_page(tab, f"{address}/cohorts")
    words = tab.locator(".lw-words b")
    assert any("mph" in text for text in words.all_inner_texts())
    tab.get_by_text("Metric", exact=True).click()
    tab.get_by_text("km/h").first.wait_for(timeout=30_000)
    tab.wait_for_timeout(1500)
    american = [text for text in words.all_inner_texts() if re.search(r"\b(mph|lb|in)$", text)]
    assert american == []
    tab.get_by_role("link", name="Weight plans").click()
    tab.get_by_text(re.compile(r"kg/wk")).first.wait_for(timeout=30_000)
    facts = " ".join(tab.locator(".lw-plan").all_inner_texts())
    assert re.search(r"kg/wk", facts)
    assert not re.search(r"\blb\b", facts)


def test_one_click_leads_from_a_cohort_number_to_its_athletes(tab, address) -> None:
    open_page(tab, f"{address}/cohorts")
    tab.get_by_role("link", name="See athletes").first.click()
    tab.get_by_role("heading", name="Each athlete").wait_for(timeout=30_000)
    tab.locator("[data-testid=stPageLink] a:visible").nth(1).click()
    tab.get_by_text("What waits:").wait_for(timeout=30_000)
    assert "athlete=" in tab.url


def test_a_director_exports_one_athlete_and_a_whole_camp(tab, own_address, tmp_path) -> None:
    address, root, athlete, camp = own_address
    one, many = tmp_path / "one.pdf", tmp_path / "camp.zip"
    open_page(tab, f"{address}/summaries?athlete={athlete}", words="Preview of the sheet")
    issue_and_save(tab, "Issue this summary", "^Save .*pdf", one)
    assert verify(root, one.name, one.read_bytes()).state == "issued"
    choose(tab, "Camp", camp)
    tab.get_by_text(f"The whole of {camp}").wait_for(timeout=60_000)
    issue_and_save(tab, "Issue for the camp", "^Save summaries.zip", many)
    with zipfile.ZipFile(many) as archive:
        result = [verify(root, name, archive.read(name)).state for name in archive.namelist()]
    assert result == ["issued"] * len(result)
    refused = tab.get_by_role("table").last.inner_text()
    assert "consent" in refused
    assert tab.get_by_text(f"Sheets issued and noted in the register: {len(result)}.").is_visible()
    assert len(result) > 5


def choose(tab: Page, label: str, option: str) -> None:
    box = tab.get_by_role("combobox", name=label).first
    box.click()
    box.fill(option)
    box.press("Enter")


def issue_and_save(tab: Page, label: str, saved: str, to: Path) -> None:
    button = tab.get_by_role("button", name=label)
    form = tab.locator("[data-testid=stForm]").filter(has=button)
    form.get_by_label("Your name").fill("Odalys Fen")
    form.get_by_label("Your name").press("Tab")
    button.click()
    save = tab.get_by_role("button", name=re.compile(saved)).last
    save.wait_for(timeout=120_000)
    with tab.expect_download(timeout=60_000) as download:
        save.click()
    download.value.save_as(to)
