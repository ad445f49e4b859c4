"""Weight plans: which plan needs a decision, for the strength coach."""

from __future__ import annotations

import streamlit as st

from dashboard import cautions, data, empties
from dashboard.charts.card import card_facts, card_status
from dashboard.charts.corridor import corridor_key, draw_corridor
from dashboard.screens import parts
from dashboard.views.plans import Board, Card, build_board


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Weight plans")
    if opened is None:
        return
    build, lookup = opened.build, opened.lookup
    if not data.plans(build):
        parts.empty(empties.NO_PLAN)
        parts.caution(cautions.WEIGHT, cautions.UNDER_14)
        return
    camps = {"": "All camps", **{one.camp_id: one.label for one in data.camps(build)}}
    asked = st.query_params.get("camp", "")
    if asked not in camps:
        parts.refused(empties.NOT_YOURS)
        return
    camp = parts.pick("Camp", list(camps), asked, parts.named(camps), key="plans_camp")
    _board(opened, build_board(data.plan_record(build), camp or None, opened.today, lookup))


def _board(opened: parts.Opened, board: Board) -> None:
    parts.words(board.head)
    parts.words(board.false_alarms)
    parts.caution(cautions.WEIGHT, cautions.RATE, cautions.STOP)
    if not board.cards:
        parts.empty(empties.NO_ACTIVE_PLAN)
    else:
        st.html(corridor_key())
    for card in board.cards:
        _card(opened, card)
    if board.too_young:
        parts.words(f"{cautions.UNDER_14} At camp now: {', '.join(board.too_young)}.")
    if board.ended:
        with st.expander(f"Plans that have ended: {len(board.ended)}"):
            parts.bullets(board.ended)


def _card(opened: parts.Opened, card: Card) -> None:
    with st.container(border=True):
        left, middle, right = st.columns([4, 4, 6])
        with left:
            parts.athlete_link(card.athlete_id, card.name)
            st.html(card_status(card))
        middle.html(draw_corridor(card.track, opened.colours))
        right.html(card_facts(card))


if __name__ == "__main__":
    render()
