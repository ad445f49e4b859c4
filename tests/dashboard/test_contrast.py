"""Every colour of ours against the ground it stands on, by the formula of WCAG 2.2."""

from __future__ import annotations

import re
import tomllib
from dataclasses import fields
from pathlib import Path

import pytest

from latewood.dashboard.theme import DARK, LIGHT, Palette

HOME = Path(__file__).parents[2] / "dashboard"
CONFIG = tomllib.loads((HOME / ".streamlit" / "config.toml").read_text(encoding="utf-8"))["theme"]
TEXT, MARK = (
    4.5,
    3.0,
)  # WCAG 2.2, success criteria 1.4.3 (text) and 1.4.11 (parts of a drawing that carry meaning)


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it, of '#rrggbb'."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def variables() -> dict[str, tuple[str, str]]:
    """The colours of style.css, light and dark."""
    css = (HOME / "style.css").read_text(encoding="utf-8")
    result = re.findall(r"--lw-(\w+): light-dark\((#[0-9a-f]{6}), (#[0-9a-f]{6})\)", css)
    return {name: (light, dark) for name, light, dark in result}


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    # black on white and a grey on white as the W3C's Understanding 1.4.3 gives them; the last from memory
    [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.48), ("#767676", "#ffffff", 4.54)],
)
def test_the_formula_gives_the_published_ratios(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("mode", ["light", "dark"])
@pytest.mark.parametrize("ground", ["backgroundColor", "secondaryBackgroundColor"])
def test_text_and_links_stand_out_from_both_grounds(mode: str, ground: str) -> None:
    colours, at = CONFIG[mode], 0 if mode == "light" else 1
    written = {key: colours[key] for key in ("textColor", "linkColor")}
    written["quiet"] = variables()["quiet"][at]
    ratios = {name: round(contrast(colour, colours[ground]), 2) for name, colour in written.items()}
    assert {name: ratio for name, ratio in ratios.items() if ratio < TEXT} == {}


@pytest.mark.parametrize("mode", ["light", "dark"])
def test_words_on_a_button_stand_out_from_it(mode: str) -> None:
    assert contrast("#ffffff", CONFIG[mode]["primaryColor"]) >= TEXT


@pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
def test_what_carries_meaning_in_a_drawing_stands_out(palette: Palette) -> None:
    # tape and rule are the ground and the frame of a drawing and say nothing alone
    carrying = {name: getattr(palette, name) for name in ("ink", "ochre", "slate")}
    ratios = {name: round(contrast(colour, palette.paper), 2) for name, colour in carrying.items()}
    assert {name: ratio for name, ratio in ratios.items() if ratio < MARK} == {}
    assert contrast(palette.ink, palette.tape) >= TEXT  # marks and words that stand on the tape


def test_the_two_places_where_colours_are_written_agree() -> None:
    for name, (light, dark) in variables().items():
        if name in {field.name for field in fields(Palette)}:
            assert (light, dark) == (getattr(LIGHT, name), getattr(DARK, name))
    assert (CONFIG["light"]["backgroundColor"], CONFIG["dark"]["backgroundColor"]) == (
        LIGHT.paper,
        DARK.paper,
    )
