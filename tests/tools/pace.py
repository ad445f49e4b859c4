"""How long a page change takes in Chromium: `python -m tests.tools.pace --data DIR --rounds 10 --out docs/pace.md`.

Every role goes through all its screens by clicking, as often as asked. A change lasts from the click until the new
screen's words stand, its script has ended, nothing of the old screen is left and every chart is drawn.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from playwright.sync_api import Locator, Page

from latewood.pipeline.access import ROLES
from tests.tools.shots import chromium, serving

EVERY = "every role"
WANTED = 1.0  # seconds: what 95 of 100 page changes shall stay under
MAIN, NAVIGATION = "[data-testid=stMain]", "[data-testid=stTopNavLink], [data-testid=stSidebarNavLink]"
# Screens that a link on another screen opens: from where, the link, the words that tell that it is there.
BEYOND = {
    "Weight plans": (("Create a plan", "New weight plan"), ("", "Why this status")),
    "Athlete": (("", "What waits"),),
    "Cohorts": (("See athletes", "Back to "),),
}
# what the table calls a screen that is known by these words
CALLED = {"Back to ": "each athlete", "What waits": "another athlete"}
ARM = """words => {
  const old = document.querySelector('h2')?.innerText;
  window.pace = {};
  document.addEventListener('click', () => { window.pace.from = performance.now(); }, {capture: true, once: true});
  const there = () => {
    const main = document.querySelector('[data-testid=stMain]'), title = document.querySelector('h2')?.innerText;
    return words ? main?.innerText.includes(words) : title && title !== old;
  };
  const look = () => {  // the cheap questions first: looking must not hold up what is looked at
    const quiet = window.pace.from
      && document.querySelector('[data-testid=stApp]')?.dataset.testScriptState === 'notRunning'
      && !document.querySelector('[data-testid=stSkeleton], [data-stale=true]')
      && [...document.querySelectorAll('[data-testid=stVegaLiteChart]')].every(c => c.querySelector('canvas, svg'));
    if (quiet && there()) window.pace.to ??= performance.now();
    else requestAnimationFrame(look);
  };
  look();
}"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One page change: whose, to which screen, how long in seconds; the first visit to a screen counts apart."""

    role: str
    screen: str
    seconds: float
    first: bool


def click(tab: Page, link: Locator, words: str) -> float:
    """Seconds from the click until the next screen stands."""
    tab.evaluate(ARM, words)
    link.click()
    tab.wait_for_function("window.pace?.to", timeout=60_000)
    return float(tab.evaluate("(window.pace.to - window.pace.from) / 1000"))


def walk(tab: Page, role: str, rounds: int, skip: int) -> Iterator[Change]:
    """Every page change of one role, going round its screens; `skip` links are left to the roles before.

    The list of athletes is of another camp each time, so that no athlete stands ready from the round before.
    """
    if role != EVERY:
        tab.get_by_role("combobox", name="Seen as").click()
        tab.get_by_role("option", name=ROLES[role].title.capitalize(), exact=True).click()
        tab.wait_for_timeout(4000)
    links = tab.locator(NAVIGATION)
    shown = links.all_inner_texts()
    names = [*shown[1:], *shown[:1]]  # the first stands open already; a role of one screen changes none
    for turn in range(rounds + 1):
        for name in names:
            link = links.filter(has_text=name).first
            yield Change(role=role, screen=name, seconds=click(tab, link, ""), first=turn == 0)
            if name == "Athlete":
                _other_camp(tab, skip + turn)
            for beyond, words in BEYOND.get(name, ()):
                for change in _beyond(tab, role, name, beyond, words, skip + turn):
                    yield replace(change, first=turn == 0)


def _beyond(tab: Page, role: str, name: str, beyond: str, words: str, skip: int) -> Iterator[Change]:
    """A screen that a link on this one opens, another one each time, and the way back, which is not counted twice."""
    there = tab.locator(f"{MAIN} [data-testid=stPageLink] a:visible")
    links = there.filter(has_text=beyond) if beyond else there.filter(has_not_text="plan")
    if links.count() == 0:
        return
    link = links.nth(links.count() - 1 - skip % links.count())
    seconds = click(tab, link, words)
    yield Change(
        role=role, screen=f"{name}: {CALLED.get(words, words.lower())}", seconds=seconds, first=False
    )
    tab.go_back()
    tab.wait_for_timeout(1500)


def _other_camp(tab: Page, skip: int) -> None:
    tab.get_by_role("combobox", name="Athletes of").click()
    camps = tab.get_by_role("option")
    camps.nth(skip % camps.count()).click()
    tab.wait_for_timeout(1500)


def measure(folder: Path, rounds: int) -> list[Change]:
    """The page changes of every role on one data folder, one person at a time."""
    result: list[Change] = []
    with serving(folder) as address, chromium() as browser:
        for number, role in enumerate((EVERY, *ROLES)):
            context = browser.new_context(viewport={"width": 1440, "height": 900})
            tab = context.new_page()
            tab.goto(address)
            tab.locator("h2").first.wait_for(timeout=60_000)
            result += walk(tab, role, rounds, number * (rounds + 1))
            context.close()
    return result


def table(found: Sequence[Change]) -> str:
    """The changes as a table: a line per screen, all roles together, and one over all."""
    lines = [
        "| screen | roles | page changes | p50, s | p95, s | first visit, s |",
        "|---|---|---|---|---|---|",
    ]
    for screen in dict.fromkeys(one.screen for one in found):
        lines.append(_line(screen, [one for one in found if one.screen == screen]))
    return "\n".join([*lines, _line("**all**", found)])


def _line(screen: str, found: Sequence[Change]) -> str:
    later = [one.seconds for one in found if not one.first]
    first = [one.seconds for one in found if one.first]
    half, most = (float(np.quantile(later, share)) for share in (0.5, 0.95)) if later else (np.nan, np.nan)
    roles = len({one.role for one in found})
    return (
        f"| {screen} | {roles} | {len(later)} | {half:.2f} | {most:.2f} | {max(first, default=np.nan):.2f} |"
    )


def page(found: Sequence[Change], load: tuple[float, float]) -> str:
    """The document: the table, the machine, how busy it was, and whether the aim is met."""
    later = [one.seconds for one in found if not one.first]
    most = float(np.quantile(later, 0.95))
    met = "met" if most < WANTED else f"not met, by {most - WANTED:.2f} s"
    return (
        "# How long a page change takes\n\n"
        "Written by `python -m tests.tools.pace --data DIR --rounds N --out docs/pace.md` on the demo, in "
        "Chromium, one "
        "person at a time, another athlete or plan each time. A change lasts from the click until the new screen "
        "stands with every chart drawn. The first visit to a screen in a session stands apart: it fills the server's "
        "cache and loads the drawing library.\n\n"
        f"{table(found)}\n\n"
        f"Aim: 95 of 100 page changes under {WANTED:.0f} s: {met}.\n\n"
        f"Machine: {os.cpu_count()} cores, {platform.system()} {platform.machine()}, CPython "
        f"{platform.python_version()}; server and browser share the cores. Load average {load[0]:.1f} before and "
        f"{load[1]:.1f} after: above {os.cpu_count()} other work took part of the time.\n"
    )


def main() -> None:
    """Measure, print the table, and write the page where one is named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--rounds", type=int, default=10)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    before = os.getloadavg()[0]
    result = measure(given.data.absolute(), given.rounds)
    text = page(result, (before, os.getloadavg()[0]))
    sys.stdout.write(text)
    if given.out is not None:
        given.out.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
