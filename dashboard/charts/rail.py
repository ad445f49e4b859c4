"""The rail: hollow mark at the start, filled mark now, grey tape where no change can be said."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import exact, mark, picture, safe, span
from latewood.dashboard.views.athlete.rails import REACH, Rail


def draw_rail(rail: Rail) -> str:
    """One rail; better is to the right."""
    tape = 0.48 / REACH
    at = 0.5 + rail.position * tape
    return picture(
        span(0.5 - tape, 0.5 + tape, "lw-tape")
        + span(0.0, 1.0, "lw-track")
        + span(0.5, at, "lw-move")
        + mark(0.5, "lw-start")
        + mark(at, "lw-now" if rail.clear else "lw-unsure"),
        rail.sentence,
    )


def rail_sheet(rails: Iterable[Rail]) -> str:
    """All rails of a stay as one list: name, rail, words."""
    return f'<div class="lw-sheet" role="list">{"".join(_row(rail) for rail in rails)}</div>'


def _row(rail: Rail) -> str:
    conditions = f'<span class="lw-small">{safe(rail.conditions)}</span>' if rail.conditions else ""
    strong = "lw-verdict lw-clear" if rail.clear else "lw-verdict"
    source = f"Imports {rail.imports}" if rail.imports else ""
    return (
        f'<div class="lw-row" role="listitem" title="{safe(source)}">'
        f'<div class="lw-name">{safe(rail.name)}{conditions}</div>'
        f"<div>{draw_rail(rail)}</div>"
        f'<div class="lw-words"><span class="{strong}">{safe(rail.verdict)}</span> '
        f"<b>{safe(rail.amount)}</b> <span>({safe(rail.interval)})</span>"
        f"{_exactly(rail)}</div></div>"
    )


def rail_words(rail: Rail) -> str:
    """One rail with its words and no name, for a list whose names are links."""
    strong = "lw-verdict lw-clear" if rail.clear else "lw-verdict"
    return (
        f'<div class="lw-row lw-row-two"><div>{draw_rail(rail)}</div>'
        f'<div class="lw-words"><span class="{strong}">{safe(rail.verdict)}</span> <b>{safe(rail.amount)}</b> '
        f"({safe(rail.interval)}){_exactly(rail)}</div></div>"
    )


def _exactly(rail: Rail) -> str:
    """How sure and on how many days, plainly; the chance, the dates, the likely size and a further test at a tap.

    The likely size is the change once the luck of single test days is taken out.
    """
    plain = f"{rail.sure.split(' (')[0]} · {rail.basis.split(', ')[0]}"
    sized = f"likely size {rail.sized}" if rail.sized else ""
    again = f"{rail.retest.short} {rail.retest.more}" if rail.retest is not None else ""
    return exact(plain, [rail.sure, rail.basis, sized, again])


def rail_key() -> str:
    """How to read a rail."""
    return (
        '<p class="lw-key"><span class="lw-k-start"></span> start '
        '<span class="lw-k-tape"></span> grey tape: may be nothing '
        '<span class="lw-k-now"></span> now, clear <span class="lw-k-unsure"></span> now, not clear '
        "· better is to the right · more under each line: likely size, with the others of the camp counted in "
        "(too much for someone who hardly changed)</p>"
    )
