"""The way from a gain on a screen to its landed row is the one that the page for contributors lists."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
SECTION = PAGE.split("## From a gain on the Athlete screen to its row")[1].split("\n## ")[0]
ROWS = [
    [c.strip() for c in line.strip("|").split("|")]
    for line in re.findall(r"^\| \d.*$", SECTION, re.MULTILINE)
]


def _source(row: list[str]) -> str:
    return (ROOT / row[1].strip("`").split("::")[0]).read_text(encoding="utf-8")


def test_the_hops_are_counted_and_do_not_become_more() -> None:
    assert [int(row[0]) for row in ROWS] == list(range(1, len(ROWS) + 1))
    assert f"there are {len(ROWS)}." in SECTION
    assert len(ROWS) <= 15


def test_each_hop_takes_what_the_next_one_gives() -> None:
    gives = [re.findall(r"`(\w+)`", row[2]) for row in ROWS]
    links = [(row[1], given[0]) for row, given in zip(ROWS[:-1], gives[1:], strict=True)]
    missing = [
        link for row, link in zip(ROWS, links, strict=False) if not re.search(rf"\b{link[1]}\b", _source(row))
    ]
    assert missing == []


def test_functions_that_hand_the_number_on_are_there() -> None:
    code = "".join(
        p.read_text(encoding="utf-8") for f in ("pipeline", "dashboard") for p in (ROOT / f).rglob("*.py")
    )
    named = [name for row in ROWS for name in re.findall(r"`(\w+)`", row[3])]
    assert len(named) > 10
    assert [name for name in named if not re.search(rf"def {name}\(", code)] == []
