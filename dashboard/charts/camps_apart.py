"""Camps beside each other: pairs with a bar from zero each, and all camps over the years, one row a camp."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.account import amount_row
from latewood.dashboard.charts.drawing import mark, picture, safe, span
from latewood.dashboard.views.cohorts.camps_apart import CampsApart
from latewood.pipeline.pages.camp.draw import ZERO, reach_of
from latewood.pipeline.pages.camp.model import Gain
from latewood.pipeline.pages.years.model import Years
from latewood.pipeline.pages.years.page import YearRow, YearsPage, gain_words


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


def camps_table(page: YearsPage) -> str:
    """Each camp with its dates, and who came, finished, left and came back."""
    rows = []
    for row in page.camp_rows:
        words = " · ".join(
            f"{safe(head.lower())} <b>{safe(cell)}</b>"
            for head, cell in zip(page.camp_heads[2:], row[2:], strict=True)
        )
        rows.append(
            f'<div class="lw-row lw-row-two" role="listitem"><div class="lw-name">{safe(row[0])}'
            f'<span class="lw-small">{safe(row[1])}</span></div><div class="lw-words">{words}</div></div>'
        )
    return f'<div class="lw-sheet" role="list">{"".join(rows)}</div>'


def years_rows(years: Years, row: YearRow) -> str:
    """One line of measuring, a row a camp in the order of the calendar."""
    line = next(one for one in years.lines if f"{one.key}|{one.line}" == row.key)
    reach = reach_of(list(line.gains.values()))
    rows = "".join(
        _camp(camp.label, line.gains.get(camp.camp_id), reach, name=line.label) for camp in years.camps
    )
    return (
        '<p class="lw-key">Diamond: average change of all measured, leavers counted · bar: its range · upright line: '
        f'no change · better to the right</p><div class="lw-sheet" role="list">{rows}</div>'
    )


def _camp(label: str, gain: Gain | None, reach: float, name: str) -> str:
    head = f'<div class="lw-name">{safe(label)}</div>'
    if gain is None:
        none = '<div class="lw-words lw-refused">not measured so, or in too few athletes</div>'
        return f'<div class="lw-row lw-row-two" role="listitem">{head}{none}</div>'
    amount, interval = gain_words(gain)
    basis = f"{gain.measured} measured, over {gain.weeks or 0:.1f} weeks"
    words = f'<b>{safe(amount)}</b> ({safe(interval)})<span class="lw-small">{safe(basis)}</span>'
    return (
        f'<div class="lw-row" role="listitem">{head}<div>{_drawn(gain, reach, f"{name}, {label}: {amount}")}</div>'
        f'<div class="lw-words">{words}</div></div>'
    )


def _drawn(gain: Gain, reach: float, alt: str) -> str:
    step = (1 - ZERO) * 0.96 / reach
    turn, width = (
        (-1.0 if gain.better == "lower" else 1.0),
        abs((gain.high or 0) - (gain.low or 0)) / 2 or 1.0,
    )

    def x(value: float | None) -> float:
        return ZERO + turn * (value or 0.0) / (gain.step or width) * step

    ends = sorted((x(gain.low), x(gain.high)))
    inner = span(0.0, 1.0, "lw-track") + mark(ZERO, "lw-zero") + span(ends[0], ends[1], "lw-move")
    return picture(inner + mark(x(gain.gain), "lw-now"), alt)
