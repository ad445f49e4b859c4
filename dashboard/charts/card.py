"""The words of one plan on the board: status and decision, facts, the plan and its data."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.views.plans.plans import Card


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
