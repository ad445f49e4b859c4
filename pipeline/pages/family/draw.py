"""The rail of one measure for a family as SVG without words: ring at the start, filled mark now, gray band."""

from __future__ import annotations

from latewood.pipeline.pages.family.model import Rail
from latewood.pipeline.pages.marks import INK, OCHRE, SLATE, TAPE, Pen, diamond, line, picture, ring

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
    parts = [line(0, y, WIDTH, y, Pen(TAPE, 1.0))]
    if tape:
        left, right = sorted((x(-tape), x(tape)))
        parts.append(
            f'<rect x="{left:.1f}" y="{y - 11:.1f}" width="{right - left:.1f}" height="22" rx="2" fill="{TAPE}"/>'
        )
    parts += [
        line(ends[0], y, ends[1], y, Pen(SLATE, 1.6)), line(ends[0], y - 4, ends[0], y + 4, Pen(SLATE, 1.6)),
        line(ends[1], y - 4, ends[1], y + 4, Pen(SLATE, 1.6)), line(x(0.0), y, now, y, Pen(OCHRE, 3.2)),
        ring(x(0.0), y, 5, Pen(INK, 1.6), fill="#ffffff"), diamond(now, y, 6.5),
    ]  # fmt: skip
    return picture(parts, WIDTH, HEIGHT)
