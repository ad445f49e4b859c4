"""What the keyboard is at can be seen on every screen, light and dark: WCAG 2.2, success criteria 2.4.7 and 1.4.11."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.test_every_screen import PATHS, SIZES, Places, path_of, places, show
from tests.dashboard.test_contrast import MARK, contrast

__all__ = ["places"]  # the fixture of every screen
STEPS = 70  # presses of the Tab key; more than the longest screen's first page needs
# The ring of what has the focus, its colour and the ground it lies on, with what lets the ground through laid over it.
RING = """() => {
  const at = document.activeElement;
  if (!at || at === document.body || at.tagName === 'IFRAME') return null;
  const ringed = [at, at.closest('label')].filter(e => e).find(e => {
    const look = getComputedStyle(e), wide = e.getBoundingClientRect().width;
    return look.outlineStyle === 'solid' && parseFloat(look.outlineWidth) >= 2 && wide >= 12;
  });
  const words = (at.ariaLabel || at.innerText || '').slice(0, 30);
  const name = `${at.tagName} ${at.dataset.testid || at.role || ''} ${words}`;
  if (!ringed) return {name, colour: '', ground: ''};
  const look = getComputedStyle(ringed), layers = [];
  for (let e = parseFloat(look.outlineOffset) < 0 ? ringed : ringed.parentElement; e; e = e.parentElement)
    layers.push(getComputedStyle(e).backgroundColor.match(/[\\d.]+/g).map(Number));
  const over = (below, [r, g, b, a = 1]) => below.map((c, k) => Math.round(c * (1 - a) + [r, g, b][k] * a));
  const ground = layers.reverse().reduce(over, [255, 255, 255]);
  return {name, colour: look.outlineColor, ground: `rgb(${ground.join(', ')})`};
}"""


def hex_of(colour: str) -> str:
    """'rgb(34, 38, 43)' as '#22262b'; a colour that lets the ground through is refused."""
    parts = re.findall(r"[\d.]+", colour)
    assert colour.startswith("rgb(") and len(parts) == 3, colour
    return "#" + "".join(f"{int(part):02x}" for part in parts)


def rings(tab: Page) -> list[dict[str, Any]]:
    """The ring at each thing that the Tab key reaches."""
    result = []
    for _ in range(STEPS):
        tab.keyboard.press("Tab")
        ring = tab.evaluate(RING)
        if ring is None and result:
            break  # once around
        if ring is not None:
            result.append(ring)
    return result


@pytest.mark.parametrize(
    ("mode", "size"), [("light", "desk"), ("dark", "desk"), ("dark", "tablet"), ("light", "phone")]
)
def test_what_the_keyboard_is_at_stands_out_on_every_screen(
    machine_browser: Browser, address: str, places: Places, mode: str, size: str
) -> None:
    width, height, touch = SIZES[size]
    viewport = {"width": width, "height": height}
    with machine_browser.new_context(viewport=viewport, color_scheme=mode, has_touch=touch) as context:
        tab, weak = context.new_page(), {}
        for name in PATHS:
            show(tab, f"{address}/{path_of(name, places)}")
            reached = rings(tab)
            assert len(reached) > 8, name
            for ring in reached:
                if not ring["colour"] or contrast(hex_of(ring["colour"]), hex_of(ring["ground"])) < MARK:
                    weak[ring["name"]] = (name, ring["colour"], ring["ground"])
        assert weak == {}
