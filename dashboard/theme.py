"""The one palette (ink, ochre, slate on paper) and the look of every chart, in light and in dark."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """Colours of one mode. Meaning never rests on them: shapes and words carry it too."""

    paper: str
    ink: str  # what counts: the athlete, the estimate
    ochre: str  # the accent: trend, plan, intake and exit
    slate: str  # what is beside: raw readings, other athletes
    tape: str  # the grey tape: no change can be said
    rule: str  # axes and grid


LIGHT = Palette(
    paper="#fbf9f4", ink="#22262b", ochre="#a66a00", slate="#5c6b7a", tape="#ddd7c8", rule="#b9b1a0"
)
DARK = Palette(
    paper="#16191d", ink="#ece8df", ochre="#e5ad45", slate="#9fb0c0", tape="#3a4048", rule="#5b636d"
)
FONT = "Source Sans, Source Sans Pro, sans-serif"


def palette(mode: str) -> Palette:
    """The palette of 'light' or 'dark'."""
    return DARK if mode == "dark" else LIGHT


def chart_config(colours: Palette) -> dict[str, Any]:
    """The Vega-Lite configuration that every chart of ours carries."""
    words = {"labelColor": colours.ink, "titleColor": colours.ink, "labelFontSize": 12, "titleFontSize": 12}
    return {
        "font": FONT,
        "background": "transparent",
        "view": {"stroke": None},
        "axis": {
            **words,
            "titleFontWeight": "normal",
            "gridColor": colours.tape,
            "domainColor": colours.rule,
            "tickColor": colours.rule,
            "gridOpacity": 0.7,
        },
        "title": {
            "color": colours.ink,
            "subtitleColor": colours.ink,
            "fontSize": 14,
            "subtitleFontSize": 12,
            "fontWeight": 600,
            "anchor": "start",
            "offset": 8,
        },
        "text": {"color": colours.ink, "fontSize": 12},
        "legend": {**words, "orient": "top", "symbolStrokeColor": colours.ink},
    }
