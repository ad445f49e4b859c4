"""Pairs of camps: one bar from zero each, on one scale, and the sentences."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.account import amount_row
from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.views.cohorts.camps_apart import CampsApart


def camps_sheet(blocks: Iterable[CampsApart]) -> str:
    """All outputs."""
    return "".join(_block(block) for block in blocks)


def _block(block: CampsApart) -> str:
    reach = max([max(abs(row.low), abs(row.high)) for row in block.rows], default=1.0) or 1.0
    rows = "".join(amount_row(row, block.name, reach) for row in block.rows)
    words = "".join(f'<p class="lw-sentence">{safe(text)}</p>' for text in block.sentences)
    return (
        f'<div class="lw-block"><div class="lw-name">{safe(block.name)}</div><div>{words}{rows}'
        f'<p class="lw-small">{safe(block.basis)}</p></div></div>'
    )
