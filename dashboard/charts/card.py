"""The words of one weight plan: on its own page, and as a row of the table beside the link with the name."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.charts.spark import draw_track
from latewood.dashboard.theme import Palette
from latewood.dashboard.views.plans.plan_facts import PACE_WEEKS
from latewood.dashboard.views.plans.plan_table import BoardPart, Group, beside
from latewood.dashboard.views.plans.plans import Card

HEADS = (
    "Status",
    f"Rate, {PACE_WEEKS} weeks (range)",
    "Chance to reach target",
    "Course and plan",
    "Last weigh-in",
)


def card_status(card: Card) -> str:
    """The status, what may be decided, why, and how often that alarm is raised for nothing."""
    style = "lw-status lw-decide" if card.needs_decision else "lw-status"
    why = "; ".join(text for text in (card.reason, card.alarm) if text)
    table = f'<p class="lw-sentence"><b>{safe(card.table)}</b></p>' if card.table else ""
    return (
        f'<p class="{style}">{safe(card.status)}</p>{table}<p class="lw-sentence">{safe(card.decide)}</p>'
        f'<p class="lw-small">{safe(why)}</p>{_decided(card)}'
    )


def _decided(card: Card) -> str:
    """What was decided last, what came of it, and why somebody has to look again."""
    standing = card.standing
    if not standing.decided:
        return ""
    again = f" Look again: {standing.waits_for}." if standing.waits_for else ""
    text = f"<b>Decided:</b> {safe(standing.decided)}. {safe(standing.since + again)}"
    return f'<p class="lw-small lw-decided">{text}</p>'


def card_facts(card: Card) -> str:
    """What a coach looks at first, and the plan itself in a fold."""
    if not card.small_print:
        return fact_list(card.facts)
    more = f"<summary>The plan and its data</summary>{safe(card.camp)}; {safe(card.small_print)}"
    return f'{fact_list(card.facts)}<details class="lw-small">{more}</details>'


def fact_list(pairs: Iterable[tuple[str, str]]) -> str:
    """Label and value pairs as a list."""
    return f'<dl class="lw-facts">{"".join(f"<dt>{safe(k)}</dt><dd>{safe(v)}</dd>" for k, v in pairs)}</dl>'


def part_head(part: BoardPart) -> str:
    """The heads of the columns; on a phone each number names itself."""
    cells = "".join(f"<span>{head}</span>" for head in HEADS)
    return f'<div class="lw-plan lw-plan-head" aria-hidden="true">{cells}</div>' if part.groups else ""


def group_head(group: Group) -> str:
    """The status of a group, how many, and what may be decided."""
    if not group.title:
        return ""
    offered = f' <span class="lw-plan-offer">{safe(group.offered)}</span>' if group.offered else ""
    return f'<p class="lw-plan-group"><b>{safe(group.title)}</b> ({len(group.cards)}){offered}</p>'


def plan_row(card: Card, group: Group, colours: Palette) -> str:
    """Status, rate with its range, chance, line and last weigh-in of one plan."""
    short = card.short
    span = f' <span class="lw-plan-span">({safe(short.span)})</span>' if short.span else ""
    status, weighed = safe(beside(card, group)), safe(short.weighed)
    known = " lw-plan-known" if group.title and not card.standing.short else ""
    return (
        '<div class="lw-plan">'
        f'<span class="lw-plan-status{known}">{status}</span>'
        f"<span>{_named('rate')}<b>{safe(short.rate or 'no rate yet')}</b>{span}</span>"
        f"<span>{_named('chance')}{safe(short.chance or 'not known')}</span>"
        f'<span class="lw-plan-line">{draw_track(card.track, colours)}</span>'
        f'<span>{_named("weighed")}{weighed} <span class="lw-plan-span">{safe(short.weighins)}</span></span>'
        "</div>"
    )


def _named(name: str) -> str:
    """The name of a number for whoever does not see the heads of the columns."""
    return f'<span class="lw-plan-name">{name} </span>'
