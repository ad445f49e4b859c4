"""The way from a gain on a screen to its landed row is the one that the page for contributors lists."""

from __future__ import annotations

import re
from itertools import pairwise

from tests.tools.hops import hops, section
from tests.tools.recipes import ROOT

HOPS = hops()
MOST_HOPS = 12
MOST_IN_ALL = 30  # with the functions that hand the number on


def _source(place: str) -> str:
    return (ROOT / place.split("::")[0]).read_text(encoding="utf-8")


def test_the_hops_are_counted_and_do_not_become_more() -> None:
    assert [hop.number for hop in HOPS] == list(range(1, len(HOPS) + 1))
    passed_on = sum(len(hop.handed_on_by) for hop in HOPS)
    assert f"there are {len(HOPS)}, and {len(HOPS) + passed_on} with the functions" in section()
    assert len(HOPS) <= MOST_HOPS
    assert len(HOPS) + passed_on <= MOST_IN_ALL


def test_each_hop_takes_what_the_next_one_gives() -> None:
    links = [(hop.place, after.gives) for hop, after in pairwise(HOPS)]
    assert [link for link in links if not re.search(rf"\b{link[1]}\b", _source(link[0]))] == []


def test_functions_that_hand_the_number_on_are_there() -> None:
    code = "".join(
        p.read_text(encoding="utf-8") for f in ("pipeline", "dashboard") for p in (ROOT / f).rglob("*.py")
    )
    named = [name for hop in HOPS for name in hop.handed_on_by]
    assert len(named) > 10
    assert [name for name in named if not re.search(rf"def {name}\(", code)] == []
