"""The page docs/calibration.md: one part per study, so that one study can be run again without the others."""

from __future__ import annotations

import re
from dataclasses import dataclass

from tests.calibration.outcome import Study
from tests.calibration.withdrawn import WITHDRAWN

HEAD = """# Calibration: how often the numbers are right

{summary}

Camps are simulated with a known truth and handed to the functions the build calls, on seeds that no test outside
this study uses. No threshold was set on them. An assertion that is not met is said so, and mended or withdrawn: then
no document promises it, and its bound and number stay here. Bounds are not moved to fit. Beside each number stands its
Monte-Carlo error: one standard error, taken from camp to camp, since athletes of one camp are not independent.
*Coverage* is the share of intervals that hold the planted truth, *bias* the mean of estimate less truth, *width* that
of the whole interval.

**Base process.** Stays of 4 to 40 weeks, a test every 10 to 24 days; exit speed with a session SD of 1.2 mph, trials
of SD 2.3 mph, 5 to 10 trials, 4 % mishits, median of the session; gains that are fast at first, then slow; 30 % have
a bad day at intake (−2 mph); a test is missed more often on a bad day; those who gain less leave earlier; 40 athletes
a camp. The variants change one thing each. *Heavy-tailed* noise has the same SD and the tails of a t on 3 degrees of
freedom, and no test is missed for a bad day. A seed such as (7101, 0, 5) is the study, the variant (in the order of
the table, from 0) and the camp: `numpy.random.default_rng((7101, 0, 5))`. The process is an assumption of ours, not a
sample of athletes.

Made by `make calibrate`, which runs

    python -m tests.calibration

One study: `python -m tests.calibration --only trend`. Short form in the tests: `python -m pytest tests/calibration`.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One study as it stands on the page."""

    name: str
    text: str


def table(columns: tuple[str, ...], rows: list[list[str]]) -> str:
    lines = [columns, ("---",) * len(columns), *rows]
    return "\n".join("| " + " | ".join(cell.replace("|", "/") for cell in line) + " |" for line in lines)


def part_of(study: Study, stamp: str) -> Part:
    text = [f"## {study.question}", "", study.about, "", f"Seeds: {study.seeds}. Run: {stamp}.", ""]
    text += [table(study.columns, [list(r) for r in study.rows]), ""]
    if study.claims:
        claims = [[c.text, c.found.text(c.decimals), c.verdict] for c in study.claims]
        text += [table(("asserted", "found", ""), claims), ""]
    for note in study.notes:
        text += [note, ""]
    return Part(name=study.name, text="\n".join(text))


def parts_in(page: str) -> list[Part]:
    """The parts of a page that is there already."""
    result = re.findall(r"<!-- study: (\w+) -->\n(.*?)\n<!-- end of study -->", page, re.DOTALL)
    return [Part(name=name, text=text) for name, text in result]


def summary(parts: list[Part]) -> str:
    """How many assertions are met, and a list of those that are not."""
    met, near, missed, withdrawn = 0, [], [], []
    for part in parts:
        for line in part.text.splitlines():
            cells = [c.strip() for c in line.strip("|").split(" | ")]
            if len(cells) != 3:
                continue
            if cells[2] == "met":
                met += 1
            elif cells[2].startswith("withdrawn"):
                withdrawn.append(f"- {cells[0]}: {cells[1]}")
            elif cells[2].startswith("**not met**"):
                (near if "within" in cells[2] else missed).append(f"- {cells[0]}: {cells[1]}")
    text = [
        f"**{met} assertions are met, {len(missed)} are not, {len(near)} miss by less than 2 Monte-Carlo errors, "
        f"{len(withdrawn)} are withdrawn.**"
    ]
    if missed:
        text += ["", "Not met:", "", *missed]
    if near:
        text += ["", "Outside the asserted range, but within 2 Monte-Carlo errors of it:", "", *near]
    if withdrawn:
        text += [
            "",
            "Withdrawn, since they were not met; what came is in [methods](methods.md):",
            "",
            *withdrawn,
        ]
    return "\n".join(text)


def marked(part: Part) -> Part:
    """The part with a withdrawn assertion called so where it is not met."""
    lines = part.text.split("\n")
    for at, line in enumerate(lines):
        cells = line.strip("| ").split(" | ")
        if len(cells) == 3 and cells[0] in WITHDRAWN and cells[2].startswith("**not met**"):
            lines[at] = f"| {cells[0]} | {cells[1]} | withdrawn |"
    return Part(name=part.name, text="\n".join(lines))


def page_of(parts: list[Part]) -> str:
    parts = [marked(part) for part in parts]
    body = "\n".join(f"<!-- study: {p.name} -->\n{p.text}\n<!-- end of study -->\n" for p in parts)
    return HEAD.format(summary=summary(parts)) + "\n" + body
