"""How sure the numbers under a heading are: a fold of one line each, with a link to the whole method."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.charts.drawing import safe
from latewood.dashboard.text.how_sure import Kind


def sure_fold(kinds: Iterable[Kind]) -> str:
    """The fold; '' without kinds."""
    words = "".join(
        f"<p><b>{safe(kind.name)}.</b> {safe(kind.line)} "
        f'<a href="glossary?sure={safe(kind.key)}" target="_blank">How it is worked out</a></p>'
        for kind in kinds
    )
    return f'<details class="lw-small"><summary>How sure is this?</summary>{words}</details>' if words else ""
