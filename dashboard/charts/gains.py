"""The gains of a camp: one row per measure and camp, drawn in typical errors of one test."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import mark, picture, safe, span
from latewood.dashboard.views.cohorts.cohorts import GainBlock, GainRow

ZERO = 0.3  # most gains are gains: more room to the right


def gain_reach(blocks: Iterable[GainBlock]) -> float:
    """How many typical errors the drawing must reach to the right, at least 2 and at most 8."""
    ends = [row.high for block in blocks for row in block.rows if row.high is not None]
    return min(8.0, max([2.0, *ends]))


def draw_gain(row: GainRow, name: str, reach: float) -> str:
    """One gain: the bar is the interval, the diamond is the estimate."""
    if row.position is None or row.low is None or row.high is None:
        return ""
    step = (1 - ZERO) * 0.96 / reach
    at, low, high = (ZERO + place * step for place in (row.position, row.low, row.high))
    return picture(
        span(0.0, 1.0, "lw-track") + mark(ZERO, "lw-zero") + span(low, high, "lw-move") + mark(at, "lw-now"),
        f"{name}, {row.camp}: {row.amount} ({row.interval})",
    )


def gain_block(block: GainBlock, reach: float) -> str:
    """One measure with a row per camp."""
    conditions = f'<span class="lw-small">{safe(block.conditions)}</span>' if block.conditions else ""
    note = f'<p class="lw-small lw-note">{safe(block.note)}</p>' if block.note else ""
    several = len(block.rows) > 1
    rows = "".join(_row(row, block, reach, several=several) for row in block.rows)
    name = f'<div class="lw-name">{safe(block.name)}{conditions}</div>'
    return f'<div class="lw-block">{name}<div>{rows}{note}</div></div>'


def _row(row: GainRow, block: GainBlock, reach: float, *, several: bool) -> str:
    camp = f'<span class="lw-small lw-camp">{safe(row.camp)}</span>' if several else ""
    crosses = _leavers(row.n_left_early)
    if row.refusal:
        words = f'{safe(row.refusal)}<span class="lw-small">{safe(row.counts)}</span>'
        return f'<div class="lw-row lw-row-two"><div>{camp}</div><div class="lw-words lw-refused">{words}</div></div>'
    plain = f" · plain difference {safe(row.raw)}" if row.raw else ""
    plain += f" · {safe(row.first_day)}" if row.first_day else ""
    return (
        f'<div class="lw-row lw-row-two"><div>{camp}{draw_gain(row, block.name, reach)}</div>'
        f'<div class="lw-words"><b>{safe(row.amount)}</b> ({safe(row.interval)})'
        f'<span class="lw-small">{safe(row.counts)} {crosses}{plain}</span></div></div>'
    )


def _leavers(n: int) -> str:
    return f'<span class="lw-left">· {"×" * min(n, 12)} {n} left early</span>' if n else ""


def gain_key() -> str:
    """How to read the gains."""
    return (
        '<p class="lw-key"><span class="lw-k-now"></span> gain since intake, leavers counted; the bar is its range '
        "· upright line: no gain · better is to the right, one scale for all: the test's own error "
        "· × left early</p>"
    )
