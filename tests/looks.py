"""How somebody looks at the screens, and tabs that stay open from test to test: a new one costs more than a screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from playwright.sync_api import Browser, Page


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """The size of a screen, whether it is touched, and light or dark."""

    width: int
    height: int
    touch: bool = False
    scheme: Literal["light", "dark"] = "light"


DESK = Look(width=1440, height=900)
TABLET = Look(width=1024, height=768, touch=True)
PHONE = Look(width=390, height=844, touch=True)


class Tabs:
    """Two tabs of one browser, one of them touched, each given to one test at a time."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._kept: dict[bool, Page] = {}

    def of(self, look: Look) -> Page:
        """The tab in this look; who goes to a page in it empties it afterwards."""
        if look.touch not in self._kept:
            self._kept[look.touch] = self._browser.new_context(has_touch=look.touch).new_page()
        page = self._kept[look.touch]
        page.set_viewport_size({"width": look.width, "height": look.height})
        page.emulate_media(media="null", color_scheme=look.scheme)
        return page


def empty(page: Page) -> None:
    """Forget what the pages left in the browser, and close the others they opened."""
    context = page.context
    for other in [one for one in context.pages if one is not page]:
        other.close()
    if page.url.startswith("http"):
        page.evaluate("localStorage.clear(); sessionStorage.clear()")
    page.goto("about:blank")
    context.clear_cookies()
