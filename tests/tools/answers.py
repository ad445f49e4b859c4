"""How far each answer is from the first screen: `python -m tests.tools.answers --data DIR --out docs/answers.md`.

A hallway test by script. Each question of tests/tools/questions.py (the thirty scenarios, and what a coach asks in
passing) is followed from Monday as somebody would who knows where to look. What is clicked or typed is counted, the
time runs from the first of it until the words of the answer, worked out from the warehouse, stand on the screen; and
how far down they end is counted in screens. The seconds are the machine's: nobody reads or thinks in them.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser, Page
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from latewood.pipeline.care.erase import erase
from latewood.pipeline.ingest.program import load_program
from tests.handed_page import family_page
from tests.method_camp import method_camp
from tests.tools.questions import (
    CAMP,
    DEMO,
    FAMILY,
    FAMILY_OF,
    QUESTIONS,
    Book,
    Pieces,
    Question,
    Way,
    in_words,
    pattern,
)
from tests.tools.shots import SIZES, chromium, serving

AIM_SECONDS, AIM_STEPS = 10.0, 2
WIDTHS = ("wide", "tablet", "phone")
WAIT = 20_000  # ms until an answer counts as missing
NAVIGATION = "[data-testid=stTopNavLink], .st-key-app_screens a"  # the row is shown on the phone only
QUIET = (
    "document.querySelector('[data-testid=stApp]')?.dataset.testScriptState === 'notRunning'"
    " && !document.querySelector('[data-testid=stSkeleton],[data-stale=true]')"
)
# The words of the page as a person sees them, and how far down the last of the answer's ends, in pixels from the top;
# null until they stand there. Words that are hidden, in a closed fold or clipped away do not count.
PLACE = r"""pattern => {
  const main = document.querySelector('[data-testid=stMain]') || document.scrollingElement;
  if (!main) return null;
  const seen = {visibilityProperty: true, opacityProperty: true}, at = [];
  const block = e => { while (e.parentElement && getComputedStyle(e).display.startsWith('inline')) e = e.parentElement;
    return e; };
  let text = '', last = null;
  const walk = document.createTreeWalker(main, NodeFilter.SHOW_TEXT);
  const put = (c, n, i) => { if (c !== ' ' || !text.endsWith(' ')) { text += c; at.push([n, i]); } };
  while (walk.nextNode()) {
    const n = walk.currentNode, p = n.parentElement;
    if (!n.data.trim() || p.closest('style, script') || !p.checkVisibility(seen)) continue;
    const own = block(p);
    if (own !== last) put(' ', n, 0);
    last = own;
    [...n.data].forEach((c, i) => put(/\s/.test(c) ? ' ' : c === '\u2212' ? '-' : c, n, i));
  }
  const hit = new RegExp(pattern, 'i').exec(text);
  if (!hit) return null;
  const [node, i] = at[hit.index + hit[0].length - 1], range = document.createRange();
  range.setStart(node, i); range.setEnd(node, Math.min(node.data.length, i + 1));
  const box = range.getBoundingClientRect();
  return box.height ? box.bottom + main.scrollTop : null;
}"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a question is asked: the address, and the warehouse that knows the answer."""

    address: str
    book: Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """How it went at one width: clicks and names typed, seconds, and screens down to the answer's last word."""

    question: Question
    words: str
    size: str
    steps: int
    seconds: float
    down: float

    @property
    def at_sight(self) -> bool:
        """Whether it can be read without scrolling."""
        return self.down <= 1


def groups(questions: Sequence[Question]) -> tuple[tuple[Question, ...], ...]:
    """Those asked in one visit: of one role, by one way."""
    result: dict[tuple[str, str, Way], list[Question]] = {}
    for one in questions:
        result.setdefault((one.place, one.role, one.way), []).append(one)
    return tuple(map(tuple, result.values()))


def answered(tab: Page, place: Place, questions: Sequence[Question], size: str) -> tuple[Answered, ...]:
    """Follow questions of one role and way in a fresh visit; an answer that does not come is infinitely far."""
    first = questions[0]
    start = time.monotonic()
    tab.goto(place.address)
    if first.place != FAMILY:
        tab.locator("h2").first.wait_for(timeout=60_000)
        tab.wait_for_function(QUIET, timeout=60_000)
        _seen_as(tab, first.role)
        start = time.monotonic()
    steps = sum(_step(tab, kind, text) for kind, text in first.way)
    return tuple(_seen(tab, one, one.answer(place.book), (size, steps, start)) for one in questions)


def _seen(tab: Page, question: Question, words: Pieces, walked: tuple[str, int, float]) -> Answered:
    """When the words of one answer stand on the screen, and how far down."""
    size, steps, start = walked
    seconds = down = float("inf")
    try:
        tab.wait_for_function(PLACE, arg=pattern(words), timeout=WAIT, polling=100)
        seconds = time.monotonic() - start
        if question.place != FAMILY:
            tab.wait_for_function(QUIET, timeout=60_000)
        down = float(tab.evaluate(PLACE, pattern(words)) or "inf") / SIZES[size][1]
    except PlaywrightTimeout:
        pass
    return Answered(
        question=question, words=in_words(words), size=size, steps=steps, seconds=seconds, down=down
    )


def _seen_as(tab: Page, role: str) -> None:
    """The screens as this role sees them, as if the person had signed in; before anything is counted."""
    field = tab.get_by_role("combobox", name="Seen as")
    field.fill(role.capitalize())
    field.press("Enter")
    tab.wait_for_timeout(300)
    tab.wait_for_function(QUIET, timeout=60_000)
    tab.evaluate("document.querySelector('[data-testid=stMain]').scrollTo(0, 0)")


def _step(tab: Page, kind: str, text: str) -> int:
    if kind == "name":
        field = tab.get_by_role("textbox", name="Go to an athlete")
        field.fill(text)
        field.press("Enter")
        return 1
    if kind == "link":
        tab.get_by_role("link", name=re.compile(text)).first.click()
        return 1
    if kind == "part":
        tab.locator(".st-key-athlete_sections").get_by_text(text, exact=True).click()
        return 1
    if kind == "fold":
        tab.locator("summary").filter(has_text=text).click()
        return 1
    if kind == "pick":
        tab.get_by_role("combobox", name="Athlete").first.fill(text)
        tab.get_by_role("combobox", name="Athlete").first.press("Enter")
        return 1
    if kind == "held":
        field = tab.get_by_role("textbox", name="Find an athlete, a file, a measure or a value")
        field.fill(text)
        field.press("Enter")
        return 1
    tab.locator(NAVIGATION).filter(has_text=text, visible=True).first.click()
    return 1


def walk(
    browser: Browser, places: Mapping[str, Place], questions: Sequence[Question]
) -> tuple[Answered, ...]:
    """Every question at every width."""
    result: list[Answered] = []
    for size in WIDTHS:
        width, height = SIZES[size]
        for group in groups(questions):
            with browser.new_context(viewport={"width": width, "height": height}) as context:
                result += answered(context.new_page(), places[group[0].place], group, size)
    return tuple(result)


@contextmanager
def every_place(root: Path, under: Path) -> Iterator[dict[str, Place]]:
    """The demo, the camp that is written down, with one athlete erased, and a family's page, each at its address."""
    camp = method_camp(under / "camp")
    erase(camp, "T3", "Odalys Fen")
    page = family_page(root, under / "family", FAMILY_OF)
    with serving(root) as demo, serving(camp) as written:
        book = Book(root, load_program(root).today())
        yield {
            DEMO: Place(address=demo, book=book),
            CAMP: Place(address=written, book=Book(camp, load_program(camp).today())),
            FAMILY: Place(address=f"file://{page}", book=book),
        }


def table(results: Sequence[Answered]) -> str:
    """The page: what each width saw at first sight, then one row a question, three widths side by side."""
    by = {(one.question.asks, one.size): one for one in results}
    rows = []
    for question in [one for one in QUESTIONS if (one.asks, WIDTHS[0]) in by]:
        cells = [by[question.asks, size] for size in WIDTHS]
        texts = [f"{c.steps} · {c.seconds:.1f} · {c.down:.1f}{'' if c.at_sight else ' ↓'}" for c in cells]
        words = cells[0].words.replace("|", "/")
        rows.append(
            f"| {question.number} | {question.role} | {question.asks} | {words} | {' | '.join(texts)} |"
        )
    head = " | ".join(f"{size}, {SIZES[size][0]} px" for size in WIDTHS)
    return "\n".join((
        "# How far each answer is from the first screen",
        "",
        "Written by `python -m tests.tools.answers --data DIR --out docs/answers.md` in Chromium: clicks and",
        "names typed · seconds from the first of them until the answer stands · screens down to its last word (up",
        "to 1.0: read without scrolling; ↓: further down). Each question begins on Monday in a fresh visit, as",
        "its role sees it, by somebody who knows where to look; the seconds are the machine's, nobody reads or",
        "thinks in them. Numbers in the answers are worked out from the warehouse, apart from the screens",
        "(`tests/tools/questions.py`). With a number: a scenario of [scenarios](scenarios.md); without: what a",
        "coach asks in passing. 9, 10 and 30 are asked of a camp of five that is written for them, 25 of a",
        "family's web page opened by itself, the others of the demo. Scenarios whose point is an action (14 a",
        "file sent again, 24 a sheet issued, 30 an erasure) are asked what is to be seen after it.",
        "",
        *(_summary(size, [one for one in results if one.size == size]) for size in WIDTHS),
        "",
        f"| # | whose | asks | answer | {head} |",
        "|---" * (4 + len(WIDTHS)) + "|",
        *rows,
        "",
        f"Load of the machine (2 cores, shared) while it ran: {os.getloadavg()[2]:.1f}.",
        "",
    ))


def _summary(size: str, results: Sequence[Answered]) -> str:
    seconds = float(np.quantile([one.seconds for one in results], 0.95, method="higher"))
    seen = sum(one.at_sight for one in results)
    steps = max(one.steps for one in results)
    return (
        f"- {size}: 95 of 100 within {seconds:.1f} s (aim {AIM_SECONDS:.0f}); at most {steps} clicks "
        f"(aim {AIM_STEPS}); {seen} of {len(results)} in view without scrolling."
    )


def main() -> None:
    """Follow every question and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--only", default="", help="questions that hold these words")
    given = parser.parse_args()
    questions = [one for one in QUESTIONS if given.only.lower() in one.asks.lower()]
    with (
        tempfile.TemporaryDirectory() as under,
        chromium() as browser,
        every_place(given.data.absolute(), Path(under)) as places,
    ):
        text = table(walk(browser, places, questions))
    if given.out is None:
        sys.stdout.write(text)
    else:
        given.out.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
