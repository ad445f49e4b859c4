"""Weight plans: which plan needs a decision, for the strength coach."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.charts.card import card_facts, card_status, fact_list
from latewood.dashboard.charts.corridor import corridor_key, draw_corridor
from latewood.dashboard.reads import plan_reads, warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.text import cautions, empties
from latewood.dashboard.views.plans.plans import ORDERS, WORST, Board, Card, build_board


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Weight plans")
    if opened is None:
        return
    build, lookup = opened.build, opened.lookup
    record = plan_reads.record(build)
    if not record.plans:
        parts.empty(empties.NO_PLAN)
        _more(opened)
        parts.caution(cautions.WEIGHT, cautions.UNDER_14)
        return
    camps = {"": "All camps", **{one.camp_id: one.label for one in warehouse.camps(build)}}
    requested = st.query_params.get("camp", "")
    if requested not in camps:
        parts.refused(empties.NOT_YOURS)
        return
    left, right = st.columns(2)
    with left:
        camp = parts.pick("Camp", list(camps), requested, parts.named(camps), key="plans_camp")
    with right:
        order = parts.pick("Order", list(ORDERS), WORST, parts.named(ORDERS), key="plans_order")
    _board(opened, build_board(record, camp or None, opened.today, lookup, order or WORST))


def _more(opened: parts.Opened) -> None:
    with st.container(horizontal=True):
        if "new_plan" in opened.build.viewer.screens:
            st.page_link(file_of("new_plan"), label="Create a plan")
        if "weighin" in opened.build.viewer.screens:
            st.page_link(file_of("weighin"), label="Weigh in")


def _board(opened: parts.Opened, board: Board) -> None:
    parts.words(f"{board.head} {board.false_alarms}")
    if board.first:
        st.html(
            f'<p class="lw-key"><b>Whom to talk to first</b></p><div class="lw-firsts">{fact_list(board.first)}</div>'
        )
    _more(opened)
    parts.caution(cautions.STOP)
    if not board.cards:
        parts.empty(empties.NO_ACTIVE_PLAN)
    else:
        st.html(corridor_key())
    for card in board.cards:
        _card(opened, card)
    parts.caution(cautions.WEIGHT, cautions.RATE)
    if board.too_young:
        parts.words(f"{cautions.UNDER_14} At camp now: {', '.join(board.too_young)}.")
    if board.ended:
        with st.expander(f"Plans that have ended: {len(board.ended)}"):
            parts.bullets(board.ended)


def _card(opened: parts.Opened, card: Card) -> None:
    with st.container(border=True):
        left, middle, right = st.columns([4, 4, 6])
        with left:
            st.page_link(
                file_of("plan"), label=parts.verbatim(card.name), query_params={"plan": card.plan_id}
            )
            st.html(card_status(card))
        middle.html(draw_corridor(card.track, opened.colours))
        right.html(card_facts(card))


if __name__ == "__main__":
    render()
