"""The rail of one measure for a family as SVG without words: ring at the start, filled mark now, gray band."""

from __future__ import annotations

from pipeline.summary.chart import INK, OCHRE, SLATE, TAPE
from pipeline.summary.family.model import Rail

WIDTH, HEIGHT = 320.0, 34.0
EDGE = 8.0


def draw_rail(rail: Rail) -> str:
    """Return the drawing; better is to the right. '' where there is no change to draw."""
    if rail.change is None or rail.low is None or rail.high is None:
        return ""
    turn = -1.0 if rail.lower_is_better else 1.0
    tape = rail.tape or 0.0
    reach = max(abs(rail.low), abs(rail.high), tape) * 1.05 or 1.0

    def x(value: float) -> float:
        return WIDTH / 2 + turn * value / reach * (WIDTH / 2 - EDGE)

    y = HEIGHT / 2
    ends, now = sorted((x(rail.low), x(rail.high))), x(rail.change)
    parts = [_line(0, y, WIDTH, y, TAPE, 1.0)]
    if tape:
        left, right = sorted((x(-tape), x(tape)))
        parts.append(
            f'<rect x="{left:.1f}" y="{y - 11:.1f}" width="{right - left:.1f}" height="22" rx="2" fill="{TAPE}"/>'
        )
    parts += [
        _line(ends[0], y, ends[1], y, SLATE, 1.6), _line(ends[0], y - 4, ends[0], y + 4, SLATE, 1.6),
        _line(ends[1], y - 4, ends[1], y + 4, SLATE, 1.6), _line(x(0.0), y, now, y, OCHRE, 3.2),
        f'<circle cx="{x(0.0):.1f}" cy="{y}" r="5" fill="#ffffff" stroke="{INK}" stroke-width="1.6"/>',
    ]  # fmt: skip
    corners = ((now - 6.5, y), (now, y - 6.5), (now + 6.5, y), (now, y + 6.5))
    parts.append(f'<path d="M{" L".join(f"{a:.1f} {b:.1f}" for a, b in corners)} Z" fill="{INK}"/>')
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" width="{WIDTH:.0f}" '
        f'height="{HEIGHT:.0f}">{"".join(parts)}</svg>'
    )


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{width}"/>'
