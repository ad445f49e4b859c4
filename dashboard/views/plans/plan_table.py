"""The active weight plans as one table: grouped by status, those that wait for a decision first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from latewood.dashboard.text.wording import count_of
from latewood.dashboard.views.plans.plan_facts import HIDDEN
from latewood.dashboard.views.plans.plans import WORST, Board, Card
from latewood.pipeline.warehouse.lookups import plain_name

FIRST = "Whom to talk to first"
LATER = "Nothing to decide now"
EVERY = "Every active plan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Plans of one status: what may be decided is said once where it is the same for all."""

    title: str
    offered: str
    cards: tuple[Card, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardPart:
    """A part of the table under its heading."""

    title: str
    groups: tuple[Group, ...]

    @property
    def n(self) -> int:
        """How many plans."""
        return sum(len(group.cards) for group in self.groups)


def found_by(cards: Iterable[Card], words: str) -> tuple[Card, ...]:
    """The plans whose athlete's name holds every word that was typed, however it is written."""
    asked = plain_name(words).split()
    return tuple(card for card in cards if all(word in plain_name(card.name) for word in asked))


def search_words(board: Board, shown: Sequence[Card], words: str) -> str:
    """How many plans a search leaves; '' without one."""
    if not words.strip():
        return ""
    return f"{count_of(len(shown), 'plan')} of {len(board.cards)} for “{words.strip()}”."


def build_parts(cards: Sequence[Card], order: str) -> tuple[BoardPart, ...]:
    """The table: by status in the order of need; in another order one list of all."""
    if not cards:
        return ()
    if order != WORST:
        return (BoardPart(title=EVERY, groups=(Group(title="", offered="", cards=tuple(cards)),)),)
    waiting = [card for card in cards if card.needs_decision]
    others = [card for card in cards if not card.needs_decision]
    parts = ((FIRST, waiting), (LATER, others))
    return tuple(BoardPart(title=title, groups=_by_status(rows)) for title, rows in parts if rows)


def _by_status(cards: Sequence[Card]) -> tuple[Group, ...]:
    result: dict[str, list[Card]] = {}
    for card in cards:
        result.setdefault(card.table or card.status, []).append(card)
    return tuple(
        Group(title=title, offered=rows[0].decide if same(rows) else "", cards=tuple(rows))
        for title, rows in result.items()
    )


def same(cards: Sequence[Card]) -> bool:
    """Whether the same may be decided about all of them."""
    return len({card.decide for card in cards}) == 1


def beside(card: Card, group: Group) -> str:
    """What a row says beyond the title of its group: its own status, what may be decided, the last decision."""
    own = "" if card.status == group.title else card.status
    table = card.table if card.table and card.table != group.title else ""
    offered = "" if group.offered else card.decide
    again = (
        f"look again: {card.standing.waits_for}" if card.standing.short and card.standing.waits_for else ""
    )
    hidden = f"mass {HIDDEN}" if card.track.hidden else ""
    provisional = "provisional" if card.provisional else ""
    every = (own, provisional, hidden, table, offered.rstrip("."), card.standing.short, again)
    texts = [text for text in every if text]
    return "; ".join(texts)
