"""The scorecard of past projections, drawn alike wherever it stands."""

from __future__ import annotations

from latewood.dashboard.screens import parts
from latewood.dashboard.text import cautions
from latewood.dashboard.views.athlete.scorecard import HOW_READ, Scorecard


def scorecard(card: Scorecard) -> None:
    """The table of past projections with how to read it, or that there are none."""
    parts.words(card.head)
    if not card.rows:
        return
    parts.words(HOW_READ, "lw-small")
    parts.table(card.rows, "Past projections: made, scored, share inside, error, score and verdict")
    parts.words(card.by_chance, "lw-small")
    parts.caution(cautions.PAST_PROJECTIONS)
