"""Timing of peaks: one row a segment from the ground up, place along the row is time before the event."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import mark, picture, safe, span
from latewood.dashboard.views.athlete.movement import MovementDay, SegmentRow


def movement_day(day: MovementDay) -> str:
    """One test day: verdict, rows, remarks."""
    return movement_words(day) + movement_rows(day)


def movement_words(day: MovementDay) -> str:
    """What may be said of one test day: the order, the separation, what is missing."""
    remarks = "".join(
        f'<p class="lw-small">{safe(text)}</p>' for text in (day.separation, *day.remarks) if text
    )
    return f'<p class="lw-head"><b>{safe(day.title)}</b></p><p class="lw-sentence">{safe(day.order)}</p>{remarks}'


def movement_rows(day: MovementDay) -> str:
    """The segments of one test day on its time scale."""
    rows = "".join(_row(row, day) for row in day.rows)
    ends = f'<div class="lw-ends"><span>{safe(day.start)}</span><span>{safe(day.event)}</span></div>'
    return (
        f'<div class="lw-sheet" role="list">{rows}'
        f'<div class="lw-row"><div></div><div>{ends}</div><div></div></div></div>'
    )


def _row(row: SegmentRow, day: MovementDay) -> str:
    drawn = span(0.0, 1.0, "lw-track") + mark(day.event_at, "lw-zero")
    if row.at is not None and row.first is not None and row.last is not None:
        drawn += span(row.first, row.last, "lw-tape") + mark(row.at, "lw-now")
    small = "".join(f'<span class="lw-small">{safe(text)}</span>' for text in row.small.splitlines())
    return (
        f'<div class="lw-row" role="listitem"><div class="lw-name">{safe(row.name)}</div>'
        f"<div>{picture(drawn, f'{row.name}: {row.words}')}</div>"
        f'<div class="lw-words">{safe(row.words)}{small}</div></div>'
    )


def movement_sheet(days: Iterable[MovementDay]) -> str:
    """Several days, one below the other on one time scale."""
    return "".join(map(movement_day, days))
