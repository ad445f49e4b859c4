"""Drawings of Altair as finished Vega-Lite text, kept, since building one takes as long as a screen's other work."""

from __future__ import annotations

import json
from collections.abc import Callable, Hashable
from functools import lru_cache
from typing import TypeVar

import altair as alt

from latewood.dashboard.theme import Palette

Sheet = TypeVar("Sheet", bound=Hashable)
Drawn = alt.LayerChart | tuple[alt.LayerChart, ...]


def specs(draw: Callable[[Sheet, Palette], Drawn], sheet: Sheet, colours: Palette) -> tuple[str, ...]:
    """The charts that `draw` makes of a frozen sheet, as JSON texts; the same sheet is drawn once.

    The sheet itself is the key: whoever may not see its rows has another sheet. Vega-Lite's schema is held up to
    every kind of chart by the tests, not at each drawing.
    """
    return _kept(draw, sheet, colours)


@lru_cache(maxsize=256)
def _kept(draw: Callable[[Sheet, Palette], Drawn], sheet: Sheet, colours: Palette) -> tuple[str, ...]:
    drawn = draw(sheet, colours)
    charts = drawn if isinstance(drawn, tuple) else (drawn,)
    return tuple(json.dumps(chart.to_dict(validate=False)) for chart in charts)
