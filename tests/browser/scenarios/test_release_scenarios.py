"""The director's sheet for a recruiter: scenario 24 of docs/scenarios.md, looked at in Chromium."""

from __future__ import annotations

import html
import io
import json
import re
import zipfile
from contextlib import closing
from pathlib import Path

import pypdf
import pytest
from playwright.sync_api import Page

from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.pages.recruit.verify import verify
from latewood.pipeline.warehouse.connection import open_published
from tests.browser.scenarios.looking import look, plain, read, settle


def sheets(tab: Page, address: str, athlete: str, words: str) -> str:
    return look(tab, f"{address}/summaries?athlete={athlete}", words)


def test_24_without_consent_the_reason_stands_where_the_button_would(own_demo) -> None:
    refused = {
        a: why for a, why in consent_book.refusals(own_demo.root).items() if why.startswith("no consent")
    }
    observed = sheets(own_demo.tab, own_demo.address, min(refused), "No summary can be made")
    assert f"No summary can be made: {refused[min(refused)]}." in observed
    assert own_demo.tab.get_by_role("button", name="Issue this summary").count() == 0
    assert "Record a consent" in observed


@pytest.fixture(scope="module")
def issued(own_demo, tmp_path_factory) -> dict[str, bytes]:
    """Briarfen's sheet in three forms, issued on the screen and saved as its archive."""
    tab, athlete = own_demo.tab, own_demo.id_of("Ansel Briarfen")
    sheets(tab, own_demo.address, athlete, "Preview of the sheet")
    form = tab.locator("[data-testid=stForm]").filter(
        has=tab.get_by_role("button", name="Issue this summary")
    )
    box = form.get_by_role("combobox", name="Forms")
    box.click()
    for name in ("Web page", "Data (JSON)"):
        tab.keyboard.type(name)
        tab.get_by_role("option", name=name, exact=True).wait_for(timeout=30_000)
        tab.keyboard.press("Enter")
    tab.keyboard.press("Escape")
    form.get_by_label("Your name").fill("Odalys Fen")
    form.get_by_role("button", name="Issue this summary").click()
    save = tab.get_by_role("button", name=re.compile("^Save summaries.zip"))
    save.wait_for(timeout=120_000)
    with tab.expect_download(timeout=60_000) as download:
        save.click()
    to = tmp_path_factory.mktemp("issued") / "summaries.zip"
    download.value.save_as(to)
    with zipfile.ZipFile(to) as archive:
        return {Path(name).suffix: archive.read(name) for name in archive.namelist()}


def test_24_every_form_says_the_same_and_nothing_it_may_not(own_demo, issued) -> None:
    assert sorted(issued) == [".html", ".json", ".pdf"]
    record = json.loads(issued[".json"])
    pdf = plain(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(issued[".pdf"])).pages))
    web = plain(html.unescape(re.sub(r"<[^>]+>", " ", issued[".html"].decode())))
    exit_speed = next(one for one in record["measures"] if one["key"] == "exit_speed")
    best, typical = f"{exit_speed['best']['best']:.1f} mph", f"{exit_speed['latest']['typical']:.1f} mph"
    for words in (pdf, web):
        assert best in words
        assert typical in words
        assert f"{exit_speed['growth']['change']:+.1f} mph" in words
        assert re.search(r"best of 40 trials, 4 ?sessions", words.replace("sess ions", "sessions"))
        assert record["person"]["sizes"][1]["text"] in words
        assert "measured 1 Aug 2033" in words
        assert "Invented data" in words
    assert exit_speed["statistic"] == "median of 10 trials"
    athlete = own_demo.id_of("Ansel Briarfen")
    with closing(open_published(own_demo.root)) as connection:
        born = connection.execute(
            "select birth_date from athlete where athlete_id = $a", {"a": athlete}
        ).fetchone()[0]
    for words in (pdf, web, issued[".json"].decode()):
        for spelled in (f"{born:%Y-%m-%d}", f"{born.day} {born:%b %Y}", f"{born:%m/%d/%Y}", athlete):
            assert spelled not in words


def test_24_a_withdrawal_marks_what_was_sent(own_demo, issued) -> None:
    tab, athlete = own_demo.tab, own_demo.id_of("Ansel Briarfen")
    for suffix, content in issued.items():
        assert verify(own_demo.root, f"a{suffix}", content).state == "issued"
    sheets(tab, own_demo.address, athlete, "Preview of the sheet")
    tab.get_by_text("Withdraw the consent").click()
    fold = tab.locator("[data-testid=stExpander]").filter(has=tab.get_by_role("button", name="Withdraw now"))
    fold.get_by_label("Your name").fill("Odalys Fen")
    fold.get_by_label("Your name").press("Tab")
    settle(tab)
    fold.get_by_role("button", name="Withdraw now").click()
    tab.get_by_text("Consent withdrawn. Pages marked as withdrawn: 1.").wait_for(timeout=60_000)
    tab.get_by_text("No summary can be made").wait_for(timeout=60_000)
    observed = read(tab)
    assert "Files already sent cannot be called back." in observed
    assert "No summary can be made: the consent was withdrawn on 2033-08-01" in observed
    for suffix, content in issued.items():
        assert verify(own_demo.root, f"a{suffix}", content).state == "withdrawn"
