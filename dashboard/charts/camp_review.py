"""The camp review on screen: the same words as on the sheet, its drawings made of styled blocks."""

from __future__ import annotations

from collections.abc import Sequence

from latewood.dashboard.charts.drawing import exact, mark, picture, safe, span
from latewood.dashboard.views.cohorts.review_plain import KEY as PLAIN_KEY
from latewood.dashboard.views.cohorts.review_plain import NOT_MASS, plain_singles
from latewood.pipeline.pages.camp.draw import ZERO, reach_of
from latewood.pipeline.pages.camp.model import CampPart, CampReview, Gain, GroupSheet
from latewood.pipeline.pages.camp.page import HEADS, CampPage, GainLine, group_words


def forest_sheet(review: CampReview, page: CampPage) -> str:
    """Every gain of the camp: bar and diamond, ring, cross; the numbers beside them."""
    gains = {f"{one.key}|{one.line}": one for one in review.gains if one.gain is not None}
    reach = reach_of(list(gains.values()))
    rows = "".join(_gain(gains[line.key], line, reach) for line in page.lines)
    key = f'<div class="lw-key">{safe(PLAIN_KEY)}{exact("In full", [page.key])}</div>' if page.key else ""
    return f'{key}<div class="lw-sheet" role="list">{rows}</div>'


def _gain(one: Gain, line: GainLine, reach: float) -> str:
    method = f'<span class="lw-small">{safe(line.method)}</span>' if line.method else ""
    below = exact(plain_singles(one), [_tested(line), _beside(line)])
    text = f"<b>{safe(line.gain)}</b> ({safe(line.interval)}){below}"
    return (
        f'<div class="lw-row" role="listitem"><div class="lw-name">{safe(line.name)}{method}</div>'
        f'<div>{_forest(one, line, reach)}</div><div class="lw-words">{text}</div></div>'
    )


def _beside(line: GainLine) -> str:
    pulled = f"{line.pulled} ({line.pulled_interval})" if line.pulled_interval else line.pulled
    return f"{HEADS[3]}: {pulled} · {HEADS[4]}: {line.plain}"


def _tested(line: GainLine) -> str:
    note = f" · {line.note}" if line.note else ""
    return f"{line.singles} · exit tests {line.exits}{note}"


def _forest(one: Gain, line: GainLine, reach: float) -> str:
    step = (1 - ZERO) * 0.96 / reach
    turn, width = (-1.0 if one.better == "lower" else 1.0), abs((one.high or 0) - (one.low or 0)) / 2 or 1.0

    def x(value: float | None) -> float:
        return ZERO + turn * (value or 0.0) / (one.step or width) * step

    inner = span(0.0, 1.0, "lw-track") + mark(ZERO, "lw-zero") + span(x(one.low), x(one.high), "lw-move")
    inner += mark(x(one.gain), "lw-now")
    if one.pulled is not None:
        inner += mark(x(one.pulled), "lw-ring")
    if one.plain is not None:
        inner += mark(x(one.plain), "lw-cross")
    return picture(inner, line.chart_alt)


def parts_sheet(sheet: GroupSheet) -> str:
    """One measure by parts of the camp: a dot an athlete, the mean only from eight on."""
    turn = -1.0 if sheet.better == "lower" else 1.0
    every = [turn * single.change for one in sheet.groups for single in one.singles] or [0.0]
    low, high = min(0.0, *every), max(0.0, *every)
    rows, kind = [], ""
    for group in sheet.groups:
        head = f'<span class="lw-small">{safe(group.kind)}</span>' if group.kind != kind else ""
        kind = group.kind
        rows.append(_part(sheet, group, head, (turn, low, (high - low) or 1.0)))
    return f'<div class="lw-sheet" role="list">{"".join(rows)}</div>'


def _part(sheet: GroupSheet, group: CampPart, head: str, scale: tuple[float, float, float]) -> str:
    turn, low, wide = scale

    def x(value: float) -> float:
        return 0.03 + 0.94 * (turn * value - low) / wide

    inner = span(0.0, 1.0, "lw-track") + mark(x(0.0), "lw-zero")
    for single in group.singles:
        inner += mark(x(single.change), "lw-cross lw-at" if single.left_early else "lw-peer")
    if group.mean is not None and group.low is not None and group.high is not None:
        inner += span(x(group.low), x(group.high), "lw-move lw-up") + mark(x(group.mean), "lw-now lw-up")
    strong, quiet = group_words(sheet, group)
    words = f"<b>{safe(strong)}</b> " if strong else ""
    return (
        f'<div class="lw-row" role="listitem"><div class="lw-name">{head}{safe(group.name)}</div>'
        f"<div>{picture(inner, f'{group.name}: {strong} {quiet}')}</div>"
        f'<div class="lw-words">{words}{safe(quiet)}</div></div>'
    )


def sentences(plain: Sequence[str], said: Sequence[str]) -> str:
    """What a fair comparison allows to say, plainly; the exact sentences at a tap."""
    return (
        '<div class="lw-fair">'
        + "".join(f"<p>{safe(one)}</p>" for one in plain)
        + f"{exact('In full', said)}</div>"
    )


def struck(page: CampPage) -> str:
    """Gain divided by mass gain, struck through with the reason."""
    if not page.struck:
        return ""
    full = exact("In full", [f"{page.struck}{page.struck_reason}"])
    return f'<div class="lw-head"><del>{safe(page.struck)}</del>{safe(NOT_MASS)}{full}</div>'
