"""The outputs of the first sight: last value, small line, verdict."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.charts.spark import draw_points
from latewood.dashboard.theme import Palette
from latewood.dashboard.views.athlete.first import HeadOutput


def output_cards(outputs: Iterable[HeadOutput], colours: Palette) -> str:
    """All of them beside each other, one below the other on a phone."""
    cards = "".join(_card(one, colours) for one in outputs)
    return f'<div class="lw-outputs" role="list">{cards}</div>' if cards else ""


def _card(one: HeadOutput, colours: Palette) -> str:
    conditions = f'<span class="lw-small">{safe(one.conditions)}</span>' if one.conditions else ""
    strong = "lw-verdict lw-clear" if one.clear else "lw-verdict"
    amount = f" {safe(one.amount)}" if one.amount else ""
    return (
        f'<div class="lw-output" role="listitem"><div><b>{safe(one.name)}</b>{conditions}</div>'
        f'<div class="lw-output-now"><span>{safe(one.now)}</span>{draw_points(one.points, one.alt, colours)}</div>'
        f'<div><span class="{strong}">{safe(one.verdict)}</span>{amount}</div></div>'
    )
