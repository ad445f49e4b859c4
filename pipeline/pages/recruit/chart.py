"""The small chart of one measure over a stay, as SVG without words: they stand beside it."""

from __future__ import annotations

from collections.abc import Callable

from latewood.pipeline.pages.marks import INK, OCHRE, SLATE, Pen, line, picture
from latewood.pipeline.pages.recruit.model import Shown

WIDTH, HEIGHT = 96, 40
_LEFT, _RIGHT, _TOP, _BOTTOM = 4.0, 82.0, 3.0, 37.0
Place = Callable[[float], float]


def alt_text(shown: Shown) -> str:
    """What the chart shows, in words."""
    first, last = shown.points[0], shown.points[-1]
    return (
        f"{shown.label}: {len(shown.points)} sessions from {first.held_on.isoformat()} to "
        f"{last.held_on.isoformat()}, typical values from {first.typical} to {last.typical} {shown.unit}"
    )


def growth_chart(shown: Shown) -> str:
    """Return the chart: a dot a session with its typical error; the straight line; the interval of its change.

    The bar at the right spans where the line may end, measured from where it begins; the dashed line is no change.
    Upwards is always the greater number.
    """
    error = shown.typical_error or 0.0
    growth = shown.growth
    days = [p.held_on.toordinal() for p in shown.points]
    typical = [p.typical for p in shown.points]
    start = growth.start if growth else 0.0
    ends = [start + growth.low, start + growth.high, start] if growth else []
    low, high = min([*typical, *ends]) - error, max([*typical, *ends]) + error
    span = (high - low) or 1.0
    first, width = days[0], max(1, days[-1] - days[0])

    def x(on: float) -> float:
        return _LEFT + (on - first) / width * (_RIGHT - _LEFT)

    def y(value: float) -> float:
        return _BOTTOM - (value - low) / span * (_BOTTOM - _TOP)

    parts = []
    if growth:
        parts += _growth_marks(start, shown, x, y)
    for on, value in zip(days, typical, strict=True):
        if error:
            parts.append(line(x(on), y(value - error), x(on), y(value + error), Pen(SLATE, 0.9)))
        parts.append(f'<circle cx="{x(on):.2f}" cy="{y(value):.2f}" r="2.4" fill="{INK}"/>')
    return picture(parts, WIDTH, HEIGHT)


def _growth_marks(start: float, shown: Shown, x: Place, y: Place) -> list[str]:
    growth = shown.growth
    if growth is None:
        return []
    left, right = x(growth.first_on.toordinal()), x(growth.last_on.toordinal())
    end, bar = y(start + growth.change), _RIGHT + 7
    return [
        f'<line x1="{left:.2f}" y1="{y(start):.2f}" x2="{bar + 5:.2f}" y2="{y(start):.2f}" '
        f'stroke="{SLATE}" stroke-width="0.7" stroke-dasharray="2 2"/>',
        line(left, y(start), right, end, Pen(OCHRE, 1.6)),
        line(bar, y(start + growth.low), bar, y(start + growth.high), Pen(OCHRE, 2.2)),
        line(bar - 4, end, bar + 4, end, Pen(OCHRE, 1.6)),
    ]
