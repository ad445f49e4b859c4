"""The lines of the Monday screen: how many stands at the left, of what and why beside it."""

from __future__ import annotations

from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.views.monday.monday_lines import Item
from latewood.dashboard.views.monday.monday_news import Became


def item_line(item: Item) -> str:
    """One line of what waits: the number, the words, the reason."""
    style = "lw-item lw-decide" if item.stop or item.alarm else "lw-item"
    return (
        f'<div class="{style}"><span class="lw-count">{item.n}</span><div><b>{safe(item.title)}</b>'
        f'<span class="lw-small">{safe(item.why)}</span></div></div>'
    )


def became_line(one: Became) -> str:
    """One change that became clear, or no longer is, with the reason."""
    style = "lw-verdict lw-clear" if one.clear else "lw-verdict"
    why = f'<span class="lw-small">Why: {safe(one.why)}.</span>' if one.why else ""
    return (
        f'<div class="lw-words"><span class="{style}">{safe(one.verdict)}</span> {safe(one.text)}{why}</div>'
    )
