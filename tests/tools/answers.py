"""How far each answer is from the first screen: `python -m tests.tools.answers --data DIR --out docs/answers.md`.

Each question of docs/scenarios.md that a screen answers is followed from Monday as somebody would who knows where to
look: what is clicked or typed is counted, the time runs from the first of it until the answer's words stand on the
screen, and the way down to them is counted in screens. The seconds are the machine's: nobody reads or thinks in them.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser, Page

from tests.tools.shots import SIZES, chromium, serving

AIM_SECONDS, AIM_STEPS = 10.0, 2
WIDTHS = ("wide", "tablet", "phone")
NAVIGATION = "[data-testid=stTopNavLink], .st-key-app_screens a"  # the row is shown on the phone only
QUIET = (
    "document.querySelector('[data-testid=stApp]')?.dataset.testScriptState === 'notRunning'"
    " && !document.querySelector('[data-testid=stSkeleton],[data-stale=true]')"
)
# The place of the smallest part of the page that holds the words; null until they stand there and can be seen.
PLACE = """pattern => {
  const plain = text => text.replace(/\\u2212/g, '-').replace(/\\s+/g, ' ');
  const words = new RegExp(pattern), main = document.querySelector('[data-testid=stMain]');
  if (!main || !words.test(plain(main.innerText))) return null;
  let part = main;
  for (;;) {
    const inner = [...part.children].find(e => e.checkVisibility() && words.test(plain(e.innerText || '')));
    if (!inner) break;
    part = inner;
  }
  const box = part.getBoundingClientRect();
  return box.top + main.scrollTop;
}"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question: whose, what it asks, the way from Monday, and the words that answer it (a regular expression)."""

    number: str
    role: str
    asks: str
    way: tuple[tuple[str, str], ...]
    answer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """How it went at one width: clicks and names typed, seconds, and screens down to the answer."""

    question: Question
    size: str
    steps: int
    seconds: float
    down: float


def name(text: str) -> tuple[str, str]:
    """Somebody's name, typed into the field at the top."""
    return "name", text


def link(text: str) -> tuple[str, str]:
    """A link on the page, by its words."""
    return "link", text


def screen(text: str) -> tuple[str, str]:
    """A screen of the navigation."""
    return "screen", text


def part(text: str) -> tuple[str, str]:
    """A section of the athlete page."""
    return "part", text


QUESTIONS = (
    Question(
        number="1",
        role="strength coach",
        asks="Is Briarfen on plan, and what is decided?",
        way=(link("^Ansel Briarfen$"),),
        answer=r"On plan.*chance to reach the target in time \d+ %",
    ),
    Question(
        number="2",
        role="strength coach",
        asks="Marlwick has stalled: what can be offered?",
        way=(link("^Kwabena Marlwick$"),),
        answer=r"At the ceiling.*or the target [\d.]+ weeks later",
    ),
    Question(
        number="3",
        role="strength coach",
        asks="Can Whinholt's plan be judged in week 2?",
        way=(name("Whinholt"),),
        answer=r"[Tt]oo early to tell",
    ),
    Question(
        number="4",
        role="strength coach",
        asks="Who gains too fast?",
        way=(),
        answer=r"Too fast.*Tomislav Eelgrass",
    ),
    Question(
        number="5",
        role="strength coach",
        asks="Did the sprint of Briarfen get slower with the mass?",
        way=(link("^Ansel Briarfen$"),),
        answer=r"slower by 0\.03 s or more: \d+ %",
    ),
    Question(
        number="6",
        role="performance coach",
        asks="What of Minazukida-Fen's exit speed goes with mass?",
        way=(name("Minazukida"), part("What goes with it")),
        answer=r"About \+?[\d.]+ of \+[\d.]+ mph fits the added mass",
    ),
    Question(
        number="7",
        role="performance coach",
        asks="Is Briarfen's change in exit speed within noise?",
        way=(name("Briarfen"),),
        answer=r"Exit speed.*Not clear yet [+-][\d.]+ mph",
    ),
    Question(
        number="8",
        role="performance coach",
        asks="Why is there no one line of Snowfen's 60-yard sprint?",
        way=(name("Snowfen"), part("Changes")),
        answer=r"hand to electronic",
    ),
    Question(
        number="11",
        role="data steward",
        asks="What is wrong with Brackwater's body mass?",
        way=(link("Answer them"), ("held", "Brackwater")),
        answer=r"168.*76\.2",
    ),
    Question(
        number="12",
        role="data steward",
        asks="Is a whole file in another unit?",
        way=(),
        answer=r"a whole file seems to be in another unit",
    ),
    Question(
        number="13",
        role="data steward",
        asks="Were the two Thistlewicks swapped on the scale?",
        way=(link("Answer them"), ("held", "Thistlewick")),
        answer=r"[Gg]ive each value to the other athlete|swapped",
    ),
    Question(
        number="15, 16",
        role="performance coach",
        asks="What may be said of the order of Vanamarsh's pitch?",
        way=(name("Vanamarsh"), part("Movement")),
        answer=r"Order pelvis . torso.*in \d of \d",
    ),
    Question(
        number="18",
        role="performance coach",
        asks="Did Vanamarsh's separation grow?",
        way=(name("Vanamarsh"), part("Movement")),
        answer=r"Hip-shoulder separation 44 deg.*no clear change",
    ),
    Question(
        number="19",
        role="director",
        asks="What did this camp gain, leavers counted?",
        way=(screen("Cohorts"),),
        answer=r"Exit speed.*\+1\.5 mph \(\+0\.3 to \+2\.8\)",
    ),
    Question(
        number="20",
        role="director",
        asks="How much exit speed goes with a pound?",
        way=(screen("Cohorts"), ("fold", "What goes with added mass and added strength")),
        answer=r"each lb an athlete added went with \+0\.16 mph \(",
    ),
    Question(
        number="21",
        role="performance coach",
        asks="Where is Briarfen among athletes of similar build?",
        way=(name("Briarfen"), part("Similar builds")),
        answer=r"\d+(st|nd|rd|th)|of 100",
    ),
    Question(
        number="22",
        role="performance coach",
        asks="What of Snowfen's mass fits growth?",
        way=(name("Snowfen"), part("Growth")),
        answer=r"between [+\d.]+ lb and [+\d.]+ lb|lb .*fits",
    ),
    Question(
        number="23",
        role="performance coach",
        asks="Did past projections come true?",
        way=(name("Snowfen"), part("Ahead")),
        answer=r"inside their 80 % range",
    ),
    Question(
        number="24",
        role="director",
        asks="May a sheet of Snowfen leave?",
        way=(screen("Summaries"), ("pick", "Ingrid Snowfen")),
        answer=r"No summary can be made: the consent ended on",
    ),
    Question(
        number="26",
        role="performance coach",
        asks="Where is Tidewren among athletes of the same growth stage?",
        way=(name("Tidewren"), part("Similar builds")),
        answer=r"By age and by growth stage",
    ),
    Question(
        number="27",
        role="performance coach",
        asks="Does Sandglass's mass fit growth?",
        way=(name("Sandglass"), part("Growth")),
        answer=r"growth",
    ),
    Question(
        number="28",
        role="strength coach",
        asks="Fernkelp is stronger without mass: push to gain?",
        way=(),
        answer=r"Progress without mass.*No push to gain.*Leilani Fernkelp",
    ),
    Question(
        number="29",
        role="performance coach",
        asks="How many clear verdicts are luck?",
        way=(screen("Athlete"),),
        answer=r"about \d+ of these \d+ verdicts would still read clear",
    ),
)


def answered(tab: Page, address: str, question: Question, size: str) -> Answered:
    """Follow one question. Raises TimeoutError of the browser where its words do not come."""
    tab.goto(address)
    tab.locator("h2").first.wait_for(timeout=60_000)
    tab.wait_for_function(QUIET, timeout=60_000)
    _seen_as(tab, question.role)
    start, steps = time.monotonic(), 0
    for kind, text in question.way:
        steps += _step(tab, kind, text)
    tab.wait_for_function(PLACE, arg=question.answer, timeout=30_000)
    seconds = time.monotonic() - start
    tab.wait_for_function(QUIET, timeout=60_000)
    top = float(tab.evaluate(PLACE, question.answer))
    return Answered(
        question=question, size=size, steps=steps, seconds=seconds, down=max(0.0, top / SIZES[size][1])
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


def walk(browser: Browser, address: str, questions: Sequence[Question]) -> tuple[Answered, ...]:
    """Every question at every width, each in a fresh visit."""
    result = []
    for size in WIDTHS:
        width, height = SIZES[size]
        for question in questions:
            context = browser.new_context(viewport={"width": width, "height": height})
            result.append(answered(context.new_page(), address, question, size))
            context.close()
    return tuple(result)


def table(results: Sequence[Answered]) -> str:
    """The page: one row a question, three widths side by side."""
    by = {(one.question.number, one.question.asks, one.size): one for one in results}
    questions = list(dict.fromkeys(one.question for one in results))
    rows = []
    for one in questions:
        cells = [by[one.number, one.asks, size] for size in WIDTHS]
        texts = [f"{c.steps} · {c.seconds:.1f} · {c.down:.1f}" for c in cells]
        rows.append(f"| {one.number} | {one.role} | {one.asks} | {' | '.join(texts)} |")
    head = " | ".join(f"{size}, {SIZES[size][0]} px" for size in WIDTHS)
    return "\n".join((
        "# How far each answer is from the first screen",
        "",
        "Written by `python -m tests.tools.answers --data DIR --out docs/answers.md` on the demo in Chromium: clicks",
        "and names typed · seconds from the first of them until the answer's words stand · screens down to them (under",
        "1: in view without scrolling). Each question begins on Monday in a fresh visit, as its role sees it, by",
        "somebody who knows where to look; the seconds are the machine's, nobody reads or thinks in them. Numbers are",
        "those of [scenarios](scenarios.md); scenarios that are actions of several steps (an import, a sheet issued",
        "and withdrawn, an erasure, a form filled in) are not questions and not here.",
        "",
        f"| # | whose | asks | {head} |",
        "|---|---|---|---|---|---|",
        *rows,
        "",
        *(_summary(size, [one for one in results if one.size == size]) for size in WIDTHS),
        "",
    ))


def _summary(size: str, results: Sequence[Answered]) -> str:
    seconds = float(np.quantile([one.seconds for one in results], 0.95))
    seen = sum(one.down < 1 for one in results)
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
    given = parser.parse_args()
    with serving(given.data.absolute()) as address, chromium() as browser:
        text = table(walk(browser, address, QUESTIONS))
    if given.out is None:
        sys.stdout.write(text)
    else:
        given.out.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
