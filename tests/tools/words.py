"""How hard the first sight of every screen reads: `python -m tests.tools.words --data DIR --out docs/words.md`.

The sentences that stand on a screen before anything is opened are graded by `tests.reading_level`; names, numbers in
tables, fields and buttons are no sentences and are left out. Words of statistics at first sight are listed.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, Page

from latewood.dashboard.screens.registry import SCREENS, Screen
from latewood.pipeline.warehouse.connection import open_published
from tests.reading_level import grade
from tests.tools.shots import _settle, chromium, picked_athlete, serving

AIM = 9.0  # grade of a whole screen
HARDEST = 14.0  # grade of a single sentence of eight words or more
LONG = 8
STATISTICS = re.compile(
    r"\b(log|logarithm|linear|quadratic|p[- ]?values?|kappa|intervals?|regression|coefficients?|residuals?|"
    r"confidence|posterior|prior|covariates?|standard errors?|SD|CRPS|n = ?\d+)\b|\bp ?[<=>]|[α-ωΑ-Ω]|\d\.\d{3,}",
    re.IGNORECASE,
)
# The words of the page as a person sees them before anything is opened, a block a line.
SEEN = r"""() => {
  const main = document.querySelector('[data-testid=stMain]');
  const seen = {visibilityProperty: true, opacityProperty: true};
  const skip = 'style, script, button, input, label, table, summary, a, [data-testid=stSelectbox], .vega-embed';
  return [...main.querySelectorAll('p, li, dd, .lw-words, .lw-sentence, .lw-small')]
    .filter(e => e.checkVisibility(seen) && !e.closest(skip) && !e.querySelector('p, li, dd'))
    .map(e => e.innerText.replace(/\s+/g, ' ').trim()).filter(t => t);
}"""


FREE = """
select athlete_id from stay join athlete using (athlete_id)
where left_on is null and athlete_id not in (select athlete_id from plan_review)
order by arrived_on desc, birth_date, athlete_id limit 1
"""  # somebody at camp without a plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """The sentences of one screen at first sight."""

    screen: Screen
    sentences: tuple[str, ...]

    @property
    def level(self) -> float:
        """The grade of all sentences together; 0 where there is none."""
        return grade(self.sentences) if self.sentences else 0.0

    @property
    def hardest(self) -> tuple[float, str]:
        """The sentence that reads hardest, with its grade."""
        long = [one for one in self.sentences if len(one.split()) >= LONG]
        return max(((grade([one]), one) for one in long), default=(0.0, ""))

    @property
    def statistics(self) -> tuple[str, ...]:
        """The sentences that hold a word of statistics."""
        return tuple(one for one in self.sentences if STATISTICS.search(one))


def sentences_of(blocks: Sequence[str]) -> tuple[str, ...]:
    """The sentences of a page's blocks, each once; what has no full stop is a name or a number.

    >>> sentences_of(["One. Two words?", "Pop time", "One."])
    ('One.', 'Two words?')
    """
    found = [one for block in blocks for one in re.findall(r"[^.!?]*(?:\.\d[^.!?]*)*[.!?](?=\s|$)", block)]
    return tuple(dict.fromkeys(one.strip() for one in found if one.strip()))


def read_screens(browser: Browser, address: str, known: Mapping[str, str]) -> tuple[Read, ...]:
    """Every screen, opened at one of its kind where it has any."""
    result = []
    for screen in SCREENS:
        with browser.new_context(viewport={"width": 1440, "height": 900}) as context:
            page = context.new_page()
            of = {**known, "athlete": known["free"]} if screen.key == "new_plan" else known
            page.goto(f"{address}/{screen.address(**of) if screen.query else screen.key}")
            page.wait_for_selector("h2", timeout=60_000)
            _settle(page)
            result.append(read_page(page, screen))
    return tuple(result)


def read_page(page: Page, screen: Screen) -> Read:
    """The sentences that stand on an open page now."""
    return Read(screen=screen, sentences=sentences_of(page.evaluate(SEEN)))


def one_of_each(folder: Path) -> dict[str, str]:
    """An athlete, a plan, a camp, a measure and a line to open the screens at."""
    with closing(open_published(folder)) as connection:
        plan = connection.execute("select min(plan_id) from plan_review where status = 'too fast'").fetchone()
        free = connection.execute(FREE).fetchone()
        camp, line = connection.execute(
            "select camp_id, measure || '|' || line from trend group by all order by count(*) desc, 1, 2 limit 1"
        ).fetchone() or ("", "")
    return {
        "athlete": picked_athlete(folder), "plan": str(plan[0] if plan else ""), "camp": camp, "line": line,
        "measure": line.partition("|")[0], "free": str(free[0] if free else ""),
    }  # fmt: skip


def table(read: Sequence[Read]) -> str:
    """The page: a row a screen, then what is to be mended."""
    rows = [
        f"| {one.screen.title} | {len(one.sentences)} | {one.level:.1f} | {one.hardest[0]:.1f} | "
        f"{len(one.statistics)} | {one.hardest[1].replace('|', '/')} |"
        for one in read
    ]
    return "\n".join([
        "# How the screens read", "",
        "Written by `python -m tests.tools.words`; the formula stands in `tests/reading_level.py`. Sentences at first "
        f"sight, before anything is opened, on the demo. Aim: grade {AIM:.0f} for a screen, no word of statistics.", "",
        "| screen | sentences | grade | hardest | with a word of statistics | the hardest sentence |",
        "|---|---|---|---|---|---|", *rows, "",
    ])  # fmt: skip


def main() -> None:
    """Read every screen and write the page."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, required=True)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    with serving(given.data.absolute()) as address, chromium() as browser:
        read = read_screens(browser, address, one_of_each(given.data))
    for one in read:
        for text in one.statistics:
            sys.stdout.write(f"{one.screen.key}: {text}\n")
    if given.out:
        given.out.write_text(table(read), encoding="utf-8")
    sys.stdout.write(table(read))


if __name__ == "__main__":
    main()
