"""The peer strip: dots are the nearest in build, the upright rule is the athlete, better to the right."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import exact, mark, picture, safe, span
from latewood.dashboard.views.athlete.standing import Strip


def draw_strip(strip: Strip) -> str:
    """One strip."""

    def inset(share: float) -> float:
        return 0.03 + 0.94 * share

    alt = f"{strip.name}: {strip.value} among {len(strip.dots)} nearest in build, {strip.ends[0]} to {strip.ends[1]}"
    dots = "".join(mark(inset(share), "lw-peer") for share in strip.dots)
    return picture(span(0.0, 1.0, "lw-track") + dots + mark(inset(strip.rule), "lw-rule"), alt)


def strip_sheet(strips: Iterable[Strip]) -> str:
    """All strips as one list: name and value, strip, words."""
    return f'<div class="lw-sheet" role="list">{"".join(_row(strip) for strip in strips)}</div>'


def _row(strip: Strip) -> str:
    name = f'<div class="lw-name">{safe(strip.name)}<span class="lw-small">{safe(strip.value)}</span></div>'
    if strip.refused:
        return (
            f'<div class="lw-row" role="listitem">{name}<div></div>'
            f'<div class="lw-words lw-refused">{safe(strip.headline)}</div></div>'
        )
    ends = f'<div class="lw-ends"><span>{safe(strip.ends[0])}</span><span>{safe(strip.ends[1])}</span></div>'
    return (
        f'<div class="lw-row" role="listitem">{name}<div>{draw_strip(strip)}{ends}</div>'
        f'<div class="lw-words">{safe(strip.headline)}'
        f"{exact('Who they are', [strip.counted, strip.basis])}</div></div>"
    )
