"""How much a person does at the import desk: `python -m tests.tools.desk --out docs/desk.md`.

The eight invented families of sheets are dropped on Data one after the other in a real browser, and every question is
answered by click. Counted are clicks and typed fields, and the seconds from the drop until the rows are in, builds
included. The seconds are the machine's: nobody reads or thinks in them.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, Page

from tests.end_to_end.test_look_accept import fen_camp
from tests.look_camp import FAMILIES, Family
from tests.tools.shots import chromium, serving

AIM_MINUTES = 10
ANSWERS = {
    "Is '06/08/2032' in 'date' day first or month first?": "month first",
    "In which unit is 'Exit speed'?": "mph",
    "In which unit is 'Hex Bar'?": "lb",
    "In which unit is 'Bench'?": "lb",
    "Who is 'Perrin Vance'?": "L4",
}
TAKE, PROPOSED = "Take the settled files", re.compile("as proposed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One family: its file, the values that came in, clicks and typed fields, and seconds until they were in."""

    file: str
    values: int
    clicks: int
    seconds: float


def rest(tab: Page) -> None:
    """Wait until the page has been drawn whole."""
    tab.wait_for_timeout(300)
    tab.locator("[data-testid=stApp][data-test-script-state=notRunning]").wait_for(timeout=300_000)


def choose(tab: Page, label: str, choice: str) -> int:
    """Answer one question by its select box; how many clicks it took."""
    box = tab.locator("[data-testid=stSelectbox]").filter(has_text=label).first.locator("input")
    box.click()
    box.fill(choice)
    tab.get_by_role("option", name=re.compile(f"^{re.escape(choice)}")).first.click()
    rest(tab)
    return 2


def take(tab: Page, family: Family) -> tuple[int, float]:
    """Drop one family's sheet, answer, take it; clicks with the name typed, and seconds."""
    form = tab.locator("[data-testid=stForm]").filter(
        has=tab.get_by_role("button", name="Import", exact=True)
    )
    form.wait_for(timeout=180_000)
    begun, clicks = time.monotonic(), 3
    sent = {"name": family.name, "mimeType": "application/octet-stream", "buffer": family.content}
    tab.locator("input[type=file]").set_input_files(files=[sent])
    form.get_by_label("Your name").fill("Sage Fen")
    form.get_by_role("button", name="Import", exact=True).click()
    tab.get_by_text("Look before taking").wait_for(timeout=180_000)
    rest(tab)
    for label, choice in ANSWERS.items():
        if tab.get_by_text(label).count():
            clicks += choose(tab, label, choice)
    if tab.get_by_role("button", name=PROPOSED).count():
        tab.get_by_role("button", name=PROPOSED).click()
        tab.get_by_role("button", name=PROPOSED).wait_for(state="detached", timeout=180_000)
        clicks += 1
    rest(tab)
    tab.get_by_role("button", name=TAKE).click()
    tab.get_by_text(re.compile(r"rows?, imported")).first.wait_for(timeout=300_000)
    return clicks + 1, time.monotonic() - begun


def measure(browser: Browser) -> list[Taken]:
    """Each family in turn on one new camp. Raises AssertionError where a value came in otherwise than the truth."""
    result = []
    with tempfile.TemporaryDirectory(prefix="latewood-desk-") as scratch:
        camp = fen_camp(Path(scratch))
        with serving(camp.root) as address:
            for family in [make() for make in FAMILIES]:
                tab = browser.new_page(viewport={"width": 1440, "height": 900})
                tab.goto(f"{address}/data")
                clicks, seconds = take(tab, family)
                tab.close()
                rows = camp.rows("select athlete_id, measure, measured_on, trial, value from reading")
                stored = {(a, m, day, trial): value for a, m, day, trial, value in rows}
                wrong = [k for k, v in family.truth.items() if abs(stored.get(k, 0) - v) > 1e-9 * abs(v)]
                assert not wrong, (family.name, wrong[:3])
                values = len(family.truth)
                result.append(Taken(file=family.name, values=values, clicks=clicks, seconds=seconds))
    return result


def document(taken: Sequence[Taken], load: float) -> str:
    """The page docs/desk.md."""
    seconds, clicks = sum(one.seconds for one in taken), sum(one.clicks for one in taken)
    kept = "kept" if seconds <= 60 * AIM_MINUTES else "not kept"
    lines = [f"| {one.file} | {one.values} | {one.clicks} | {one.seconds:.0f} |" for one in taken]
    return "\n".join([
        "# The import desk, counted",
        "",
        "Written by `python -m tests.tools.desk --out docs/desk.md`: eight invented families of sheets, dropped",
        "on Data one after the other in Chromium. A click is a press or a field typed (the name counts); seconds run",
        "from the drop until the rows are in, builds of the small camp included. Nobody reads or thinks in them. Every",
        f"value that came in is the true one. Load average of the machine at the start: {load:.0f}.",
        "",
        "| file | values | clicks | seconds |",
        "|---|---|---|---|",
        *lines,
        f"| **all {len(taken)}** | {sum(one.values for one in taken)} | {clicks} | {seconds:.0f} |",
        "",
        f"Aim: eight of eight within {AIM_MINUTES} minutes: {kept}, {seconds / 60:.1f} minutes of machine time.",
        "Dropped together they ask no more questions and are built once (`pytest tests/browser/test_look_desk.py`).",
        "",
    ])  # fmt: skip


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure and write the page."""
    parser = argparse.ArgumentParser(prog="python -m tests.tools.desk", description=__doc__)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args(arguments)
    load = os.getloadavg()[0]
    with chromium() as browser:
        text = document(measure(browser), load)
    sys.stdout.write(text)
    if given.out:
        given.out.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
