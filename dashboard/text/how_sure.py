"""How sure each kind of number is, in words a coach uses, and the section of docs/methods.md that says it in full.

Every figure stands in docs/calibration.md or docs/methods.md, where the command that makes it stands beside it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

METHODS = Path(__file__).resolve().parents[2] / "docs" / "methods.md"
CANNOT = METHODS.with_name("cannot.md")


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of number: its key in an address, its name, how sure it is, and the number of its section."""

    key: str
    name: str
    line: str
    section: int


KINDS: tuple[Kind, ...] = (
    Kind(
        key="change", name="A change and its verdict", section=2,
        line="The range held the true change in 95 of 100 made-up cases. Of 100 athletes who did not change, fewer "
        "than 5 were called clear at some time in their stay.",
    ),
    Kind(
        key="error", name="The grey tape of a test", section=1,
        line="Learned from your athletes' own repeats: over 100 made-up camps it came within 3 % of the truth. Few "
        "repeats make it less sure.",
    ),
    Kind(
        key="retest", name="Test again?", section=13,
        line="For one more day, what was said came true to within a point. For two more days in a camp of 15 it said "
        "13 points too much: read it as “at most”.",
    ),
    Kind(
        key="looks", name="Many verdicts in one list", section=2,
        line="Of those that stand when all are judged at once, under a tenth was false in made-up lists.",
    ),
    Kind(
        key="mass", name="Weight and its rate", section=3,
        line="The true weight was within half a per cent as a rule, slips of the unit included. Six weeks on it "
        "fell into its range in 96 of 100, the rate of three weeks in 91 to 98.",
    ),
    Kind(
        key="alarm", name="The status of a weight plan", section=3,
        line="Of 100 athletes who keep exactly to their plan, about 7 are flagged at some time in 20 weeks. Six weeks "
        "into a full stop, 80 of 100 steep plans were found but only 29 of 100 gentle ones.",
    ),
    Kind(
        key="power", name="How soon a stall would show", section=14,
        line="What is said here came within 2 points of what happened in made-up programs.",
    ),
    Kind(
        key="link", name="What goes with added mass or strength", section=4,
        line="For mass the range held the true number in 96 of 100 made-up camps. With fewer than 150 "
        "athletes strength mostly gives no clear number. Both say what goes together, no more.",
    ),
    Kind(
        key="camps_link", name="What goes with added mass, camp by camp", section=15,
        line="The range of the mean held in 95 of 100 made-up programs, that of one more camp in 94 to 98. With "
        "three camps both are wide: they say little about the next.",
    ),
    Kind(
        key="drawn", name="What drawn plan starts tell", section=18,
        line="The range held the true number in 93 to 98 of 100 made-up camps. Where mass brought nothing, 5 to 6 of "
        "100 called it clear of zero all the same. It is wide: with 48 athletes a usual number was clear in 14 to "
        "19 of 100.",
    ),
    Kind(
        key="account", name="The account of a change", section=10,
        line="The rows add up exactly. What is unexplained beyond mass held the truth in 93 of 100; which of time, "
        "growth and practice it was is not known.",
    ),
    Kind(
        key="peers", name="Standing among similar builds", section=6,
        line="Among 150 athletes the percentile was off by 5 to 8 points as a rule, among 60 by 9 to 13.",
    ),
    Kind(
        key="projection", name="What comes next", section=7,
        line="A new test day fell into the range in 95 of 100 made-up cases, in 93 of 100 for sprint times.",
    ),
    Kind(
        key="gain", name="What a camp gained", section=8,
        line="The range held the camp's true gain in 97 of 100 made-up camps, but in 56 of 100 with a radar "
        "that drifted and a test that was new. Last test less first read too high where all came tired.",
    ),
    Kind(
        key="apart", name="Do camps differ?", section=16,
        line="Camps that were all alike: any pair at all was called different in 5 to 6 of 100 made-up programs.",
    ),
    Kind(
        key="movement", name="Order and timing of movement", section=11,
        line="The range of a change in order held in over 93 of 100 made-up cases. A single trial says little.",
    ),
    Kind(
        key="growth", name="How much of a gain fits growth", section=9,
        line="Read from a published table of many children. The range holds errors of measurement only; how far one "
        "child's own growth may differ is not in it.",
    ),
)  # fmt: skip
BY_KEY: Mapping[str, Kind] = {kind.key: kind for kind in KINDS}

# Where on the screens they stand: heading (or its key in the glossary's places) and kinds.
AT: Mapping[str, tuple[str, ...]] = {
    "What changed": ("change", "error", "retest"),
    "On one time axis": ("mass",),
    "The account of a change": ("account", "link", "growth"),
    "Among athletes of similar build": ("peers",),
    "Where this may go": ("projection",),
    "Order and timing of movement": ("movement",),
    "Since intake, since the last review, and next": ("change",),
    "Cohorts: what a camp gained": ("gain", "looks"),
    "Do the camps differ?": ("apart",),
    "What goes with added mass and added strength": ("link", "camps_link"),
    "Drawn starts": ("drawn",),
    "Each athlete": ("change", "looks"),
    "How past projections of this measure did": ("projection",),
    "New": ("change", "looks"),
    "Your athletes now": ("change", "looks", "retest"),
    "Weight plans": ("alarm", "mass"),
    "Weight plan, all numbers": ("alarm", "power", "mass", "change"),
    "New weight plan": ("power", "alarm"),
    "Gains": ("gain",),
}


def kinds_at(place: str) -> tuple[Kind, ...]:
    """The kinds of number under a heading."""
    return tuple(BY_KEY[key] for key in AT.get(place, ()))


def section_of(text: str, number: int) -> str:
    """The section of that number of the methods page, its heading first; '' where there is none."""
    result = re.search(rf"^## {number}\. .*?(?=^## |^---$|\Z)", text, re.MULTILINE | re.DOTALL)
    return result.group(0).strip() if result else ""


def methods_section(number: int) -> str:
    """The section as it stands in docs/methods.md; where that page is not installed, where to find it."""
    if not METHODS.is_file():
        return f"Section {number} of docs/methods.md of the project says it in full."
    return section_of(METHODS.read_text(encoding="utf-8"), number)


def limits() -> str:
    """What no number here can say: the points of docs/cannot.md; where that page is not installed, where to find it."""
    if not CANNOT.is_file():
        return "docs/cannot.md of the project says it."
    text = CANNOT.read_text(encoding="utf-8")
    return "\n".join(line for line in text.splitlines() if line.startswith(("- ", "  ")))
