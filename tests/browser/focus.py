"""What the Tab key reaches on a page, one after the other, and the ring that shows it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from playwright.sync_api import Page

from tests.dashboard.test_contrast import MARK, contrast

STEPS = 70  # presses of the Tab key; more than the longest screen's first page needs
# The ring of what has the focus, its colour and the ground it lies on, with what lets the ground through laid over it.
RING = """() => {
  const at = document.activeElement;
  if (!at || at === document.body || at.tagName === 'IFRAME') return null;
  const ringed = [at, at.closest('label')].filter(e => e).find(e => {
    const look = getComputedStyle(e), wide = e.getBoundingClientRect().width;
    return look.outlineStyle === 'solid' && parseFloat(look.outlineWidth) >= 2 && wide >= 12;
  });
  const name = [at.tagName, at.ariaLabel || at.innerText || at.labels?.[0]?.innerText || ''].join(' ').trim();
  if (!ringed) return {name, colour: '', ground: ''};
  const look = getComputedStyle(ringed), layers = [];
  for (let e = parseFloat(look.outlineOffset) < 0 ? ringed : ringed.parentElement; e; e = e.parentElement)
    layers.push(getComputedStyle(e).backgroundColor.match(/[\\d.]+/g).map(Number));
  const over = (below, [r, g, b, a = 1]) => below.map((c, k) => Math.round(c * (1 - a) + [r, g, b][k] * a));
  const ground = layers.reverse().reduce(over, [255, 255, 255]);
  return {name, colour: look.outlineColor, ground: `rgb(${ground.join(', ')})`};
}"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """What has the focus after so many presses, the colour of its ring ('' without one), and the ground it lies on."""

    press: int
    name: str
    colour: str
    ground: str

    @property
    def stands_out(self) -> bool:
        """Whether there is a ring that one can see: WCAG 2.2, success criterion 1.4.11."""
        return bool(self.colour) and contrast(hex_of(self.colour), hex_of(self.ground)) >= MARK


def hex_of(colour: str) -> str:
    """'rgb(34, 38, 43)' as '#22262b'; a colour that lets the ground through is refused."""
    parts = re.findall(r"[\d.]+", colour)
    assert colour.startswith("rgb(") and len(parts) == 3, colour
    return "#" + "".join(f"{int(part):02x}" for part in parts)


def walk(tab: Page) -> tuple[Ring, ...]:
    """The ring at each thing that the Tab key reaches, until it comes round; frames within the page are left out."""
    result: list[Ring] = []
    for press in range(1, STEPS + 1):
        tab.keyboard.press("Tab")
        ring = tab.evaluate(RING)
        if ring is None and result:
            break
        if ring is not None:
            result.append(Ring(press=press, **ring))
    return tuple(result)
