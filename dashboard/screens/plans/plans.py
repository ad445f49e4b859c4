"""Weight plans: which plan needs a decision, for the strength coach."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.charts.card import group_head, part_head, plan_row
from latewood.dashboard.reads import plan_reads, warehouse
from latewood.dashboard.screens import parts, provisional_part
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.text import cautions, empties
from latewood.dashboard.views.plans.plan_table import Group, build_parts, found_by, search_words
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
    left, middle, right = st.columns(3)
    with left:
        camp = parts.pick("Camp", list(camps), requested, parts.named(camps), key="plans_camp")
    with middle:
        order = parts.pick("Order", list(ORDERS), WORST, parts.named(ORDERS), key="plans_order")
    asked = right.text_input("Find an athlete", placeholder="A part of the name", key="plans_find")
    order = order or WORST
    _board(opened, build_board(record, camp or None, opened.today, lookup, order), order, asked)


def _more(opened: parts.Opened) -> None:
    with st.container(horizontal=True):
        if "new_plan" in opened.build.viewer.screens:
            st.page_link(file_of("new_plan"), label="Create a plan")
        if "weighin" in opened.build.viewer.screens:
            st.page_link(file_of("weighin"), label="Weigh in")


def _board(opened: parts.Opened, board: Board, order: str, asked: str) -> None:
    parts.words(f"{board.head} {board.false_alarms}")
    provisional_part.mark(opened)
    _more(opened)
    parts.caution(cautions.STOP)
    if board.cards:
        _table(opened, board, order, asked)
    else:
        parts.empty(empties.NO_ACTIVE_PLAN)
    parts.caution(cautions.WEIGHT, cautions.RATE)
    if board.too_young:
        parts.words(f"{cautions.UNDER_14} At camp now: {', '.join(board.too_young)}.")
    if board.ended:
        with st.expander(f"Plans that have ended: {len(board.ended)}"):
            parts.bullets(board.ended)


def _table(opened: parts.Opened, board: Board, order: str, asked: str) -> None:
    cards = found_by(board.cards, asked)
    parts.words(search_words(board, cards, asked))
    shown, more = parts.portion(cards, "plans", "plans")
    for part in build_parts(shown, order):
        st.subheader(parts.verbatim(f"{part.title}: {part.n}"), anchor=False)
        with st.container(gap=None):
            st.html(part_head(part))
            for group in part.groups:
                parts.sheet(group_head(group))
                for card in group.cards:
                    _row(opened, card, group)
    more()


def _row(opened: parts.Opened, card: Card, group: Group) -> None:
    with st.container(
        horizontal=True, gap="small", vertical_alignment="center", key=f"plan_row_{card.plan_id}"
    ):
        label = parts.verbatim(card.name)
        st.page_link(file_of("plan"), label=label, query_params={"plan": card.plan_id}, width="content")
        st.html(plan_row(card, group, opened.colours))


if __name__ == "__main__":
    render()
