"""Reads the way from a gain on a screen to its landed row, as the page for contributors lists it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from tests.tools.recipes import ROOT

TITLE = "From a gain on the Athlete screen to its row"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hop:
    """One function or SQL text that makes, changes or selects the number, and those that hand it on unchanged."""

    number: int
    place: str  # file, and the function after `::`
    gives: str
    handed_on_by: tuple[str, ...]


def section() -> str:
    """The section of the page."""
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return page.split(f"## {TITLE}")[1].split("\n## ")[0]


def hops() -> tuple[Hop, ...]:
    """The hops in the page's order, the screen first."""
    rows = re.findall(r"^\| (\d+) \| `([^`]+)` \|([^|]*)\|([^|]*)\|$", section(), re.MULTILINE)
    return tuple(
        Hop(
            number=int(number),
            place=place,
            gives=next(iter(re.findall(r"`(\w+)`", gives)), ""),
            handed_on_by=tuple(re.findall(r"`(\w+)`", by)),
        )
        for number, place, gives, by in rows
    )
