"""Says which texts for an athlete are only a place in a list, such as "7" or "player 3", and name nobody for good."""

from __future__ import annotations

import re

# Words that devices and sheets put beside a number. Drawn anew each day they stand for another athlete.
SLOT_WORDS = frozenset({
    "athlete", "batter", "bay", "bib", "box", "boy", "cage", "catcher", "channel", "code", "device", "entry", "field",
    "girl", "group", "guest", "hitter", "id", "jersey", "kid", "lane", "line", "mat", "member", "mound", "new", "no",
    "nr",
    "num", "number", "order", "participant", "person", "pitcher", "place", "plate", "player", "pos", "position", "rack",
    "row", "runner", "seat", "sensor", "shirt", "slot", "spot", "station", "subject", "tag", "team", "temp", "test",
    "tester", "thrower", "turn", "unit", "unknown", "unnamed", "user", "visitor",
})  # fmt: skip
_LETTERS = re.compile(r"[^\W\d_]+")


def is_slot(text: str) -> bool:
    """Whether a text is a number or a word of no one's own, so that it may mean somebody else in the next file.

    Single plain letters ("P3", "A") name nobody either.

    >>> [is_slot(text) for text in ("1", "#7", "Player 3", "P3", "Arlo F.", "李")]
    [True, True, True, True, False, False]
    """
    words = _LETTERS.findall(text.casefold())
    return all(word in SLOT_WORDS or (len(word) == 1 and word.isascii()) for word in words)


def is_slot_header(header: str) -> bool:
    """Whether a column so headed holds places in a list and no names or ids.

    >>> is_slot_header("Lane no."), is_slot_header("Player"), is_slot_header("Athlete ID")
    (True, False, False)
    """
    words = _LETTERS.findall(header.casefold())
    return any(word in _PLACES for word in words)


_PLACES = frozenset({
    "bay", "cage", "channel", "lane", "order", "place", "pos", "position", "rack", "seat", "slot", "spot", "station",
    "turn",
})  # fmt: skip
