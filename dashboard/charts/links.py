"""What goes with a usual gain of mass and of strength: two bars from zero on one scale, and the sentences."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.account import amount_row
from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.views.athlete.strength_link import LinkBlock


def link_sheet(blocks: Iterable[LinkBlock]) -> str:
    """All outputs."""
    return "".join(_block(block) for block in blocks)


def _block(block: LinkBlock) -> str:
    reach = max([max(abs(row.low), abs(row.high)) for row in block.rows], default=1.0) or 1.0
    rows = "".join(amount_row(row, block.name, reach) for row in block.rows)
    words = "".join(f'<p class="lw-sentence">{safe(text)}</p>' for text in block.sentences)
    return (
        f'<div class="lw-block"><div class="lw-name">{safe(block.name)}</div><div>{rows}{words}'
        f'<p class="lw-small">{safe(block.basis)}</p></div></div>'
    )
