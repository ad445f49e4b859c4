"""The table of weight plans: groups by status, search, and what a row says beyond its group."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from made import DAYS, PLAN, REVIEW, WEIGHIN, lookup

from latewood.dashboard.charts.card import plan_row
from latewood.dashboard.theme import LIGHT
from latewood.dashboard.views.plans.plan_case import PlanRecord
from latewood.dashboard.views.plans.plan_table import (
    EVERY,
    FIRST,
    LATER,
    beside,
    build_parts,
    found_by,
    search_words,
)
from latewood.dashboard.views.plans.plans import NAME, WORST, Board, build_board

TODAY = date(2032, 7, 8)


def board_of(**statuses: str) -> Board:
    """One plan by each name, with its status; all but those on plan wait for a decision."""
    plans = [replace(PLAN, plan_id=name) for name in statuses]
    reviews = [
        replace(REVIEW, plan_id=name, status=status, needs_decision=status != "on plan")
        for name, status in statuses.items()
    ]
    record = PlanRecord(reviews=reviews, plans=plans, mass=DAYS, weighins=[WEIGHIN])
    return build_board(record, None, TODAY, lookup("metric"))


def test_plans_are_grouped_by_status_those_that_wait_first() -> None:
    view = board_of(a="on plan", b="stalled", c="too fast", d="stalled")
    first, later = build_parts(view.cards, WORST)
    assert (first.title, first.n, later.title, later.n) == (FIRST, 3, LATER, 1)
    groups = [(group.title, [card.plan_id for card in group.cards]) for group in first.groups]
    assert groups == [("Too fast", ["c"]), ("Stalled", ["b", "d"])]
    assert first.groups[0].offered == "Lower the rate; look again in two weeks."
    assert build_parts((), WORST) == ()


def test_in_another_order_every_plan_stands_in_one_list_with_its_own_status() -> None:
    (part,) = build_parts(board_of(a="on plan", b="stalled").cards, NAME)
    assert (part.title, part.n) == (EVERY, 2)
    assert {beside(card, part.groups[0]).split(";")[0] for card in part.groups[0].cards} == {
        "On plan",
        "Stalled",
    }


def test_what_differs_within_a_group_is_said_in_each_row() -> None:
    cards = board_of(b="stalled", d="stalled").cards
    ((group,),) = (
        part.groups for part in build_parts([cards[0], replace(cards[1], decide="End the plan.")], WORST)
    )
    assert group.offered == ""
    assert beside(group.cards[1], group) == "End the plan"
    ((group,),) = (part.groups for part in build_parts(cards, WORST))
    assert beside(group.cards[1], group) == ""


def test_a_search_takes_any_part_of_a_name() -> None:
    cards = tuple(
        replace(card, name=name)
        for card, name in zip(
            board_of(a="on plan", b="on plan").cards, ("Renée Osierthicket", "Arlo Fernmoss"), strict=True
        )
    )
    assert [card.name for card in found_by(cards, " osier REN")] == ["Renée Osierthicket"]
    assert found_by(cards, "") == cards
    view = replace(board_of(a="on plan", b="on plan"), cards=cards)
    assert search_words(view, found_by(cards, "osier"), " osier ") == "1 plan of 2 for “osier”."
    assert search_words(view, cards, " ") == ""


def test_a_row_gives_rate_with_range_chance_and_last_weigh_in() -> None:
    view = board_of(a="on plan")
    ((group,),) = (part.groups for part in build_parts(view.cards, WORST))
    row = plan_row(view.cards[0], group, LIGHT).replace("\u00a0", " ")
    assert "<b>+0.31 kg/wk</b>" in row
    assert "(+0.11 to +0.51)" in row
    assert "46 %" in row
    assert "2 days ago" in row
    assert row.count("<img") == 1


def test_a_plan_without_a_trend_yet_says_so() -> None:
    early = replace(REVIEW, rate=None, rate_percent=None, chance_target=None, status="too early to tell")
    record = PlanRecord(reviews=[early], plans=[PLAN], mass=(), weighins=())
    (card,) = build_board(record, None, TODAY, lookup("metric")).cards
    ((group,),) = (part.groups for part in build_parts([card], WORST))
    row = plan_row(card, group, LIGHT)
    assert "no rate yet" in row
    assert "not known" in row
    assert "NaN" not in row
