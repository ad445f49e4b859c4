"""The small drawings of the camp review as SVG without words: one scale for all gains, one for each group sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from latewood.pipeline.pages.camp.model import CampPart, Gain, GroupSheet
from latewood.pipeline.pages.marks import INK, OCHRE, SLATE, TAPE, Pen, cross, diamond, line, picture, ring

WIDTH, HEIGHT, STRIP, LOW = 120.0, 26.0, 14.0, 15.0
ZERO = 0.3  # most gains are gains: more room to the right
SHORTEST, LONGEST = 2.0, 8.0  # typical errors that the drawing reaches to the right
TRACK = Pen(colour=TAPE, width=0.8)


def reach_of(gains: Sequence[Gain]) -> float:
    """How many typical errors of one test the drawing reaches to the right."""
    ends = [max(_turned(one, one.low), _turned(one, one.high)) for one in gains]
    return min(LONGEST, max([SHORTEST, *ends]))


def _turned(one: Gain, value: float | None) -> float:
    """A change in typical errors of one test, better to the right."""
    width = abs((one.high or 0.0) - (one.low or 0.0)) / 2 or 1.0
    return (-1.0 if one.better == "lower" else 1.0) * (value or 0.0) / (one.step or width)


def draw_gain(one: Gain, reach: float, height: float = HEIGHT) -> str:
    """One line of the forest: bar and diamond, ring, cross; an arrow end where the bar goes on."""
    step = WIDTH * (1 - ZERO) * 0.96 / reach

    def x(value: float | None) -> float:
        return min(WIDTH - 2.0, max(2.0, WIDTH * ZERO + _turned(one, value) * step))

    ends = sorted((x(one.low), x(one.high)))
    parts = [
        line(0, 9, WIDTH, 9, TRACK), line(x(0.0), 1, x(0.0), height - 1, Pen(colour=INK, width=1.2)),
        line(ends[0], 9, ends[1], 9, Pen(colour=OCHRE, width=2.6)), diamond(x(one.gain), 9, 3.6),
    ]  # fmt: skip
    if one.pulled is not None:
        parts.append(ring(x(one.pulled), 17, 2.6, Pen(colour=INK, width=1.1)))
    if one.plain is not None:
        parts.append(cross(x(one.plain), 23))
    return picture(parts, WIDTH, height)


def draw_interval(one: Gain, reach: float) -> str:
    """A gain alone: bar and diamond on the track of the forest."""
    return draw_gain(replace(one, pulled=None, plain=None), reach, LOW)


def draw_group(sheet: GroupSheet, group: CampPart) -> str:
    """One part of the camp: a dot an athlete, crosses for leavers, the mean with its interval above them."""
    turn = -1.0 if sheet.better == "lower" else 1.0
    every = [turn * single.change for one in sheet.groups for single in one.singles] or [0.0]
    low, high = min(0.0, *every), max(0.0, *every)
    span = (high - low) or 1.0

    def x(value: float) -> float:
        return 4.0 + (turn * value - low) / span * (WIDTH - 8.0)

    zero, dot = Pen(colour=INK, width=1.0), Pen(colour=SLATE, width=0.8)
    parts = [line(0, 9.5, WIDTH, 9.5, TRACK), line(x(0.0), 1, x(0.0), STRIP - 1, zero)]
    for single in group.singles:
        at = x(single.change)
        parts.append(cross(at, 9.5) if single.left_early else ring(at, 9.5, 1.9, dot))
    if group.mean is not None and group.low is not None and group.high is not None:
        ends = sorted((x(group.low), x(group.high)))
        bar = Pen(colour=OCHRE, width=2.0)
        parts += [line(ends[0], 3.2, ends[1], 3.2, bar), diamond(x(group.mean), 3.2, 2.8)]
    return picture(parts, WIDTH, STRIP)
