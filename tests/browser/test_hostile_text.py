"""In Chromium: text of an import and of an address is shown as it came, and nothing outside is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlencode, urlsplit

import pytest
from playwright.sync_api import Page

from tests.browser.test_every_screen import DONE, show
from tests.hostile import ATHLETE, CAMP, HOST, PLAN, SIGNS, make_hostile
from tests.shared import shared
from tests.tools.shots import serving

WAY = "exit_speed|delivery=tee; bat=metal; ball=baseball; device=radar"
PATHS = {
    "monday": {},
    "cohorts": {"camp": CAMP},
    "camp_review": {"camp": CAMP},
    "athlete": {"athlete": ATHLETE, "section": "all"},
    "plans": {"camp": CAMP},
    "plan": {"plan": PLAN},
    "new_plan": {"athlete": ATHLETE},
    "weighin": {"measure": "exit_speed"},
    "summaries": {"athlete": ATHLETE},
    "data": {},
    "glossary": {"sure": SIGNS},
    "behind": {"camp": CAMP, "measure": WAY},
}
# Everything that text could have become: links, pictures, formulas, icons, emoji, colours, bold letters.
BECAME = f"""() => {{
  const all = selector => [...document.querySelectorAll(selector)];
  const told = e => (e.outerHTML || '').slice(0, 200);
  const marked = e => /[\\]:]|\\*\\*/.test(e.textContent) === false && /^(r|b|home)$/.test(e.textContent.trim());
  const emoji = document.body.innerText.includes('😄') ? ['emoji'] : [];
  const outside = e => e.protocol === 'mailto:' || e.hostname.includes("{HOST}");
  return [...all('a').filter(outside), ...all('img[src*="{HOST}"]'), ...all('.katex'),
    ...all('[data-testid=stMain] span, [data-testid=stMain] strong').filter(marked)].map(told).concat(emoji);
}}"""


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with serving(shared(tmp_path_factory, "hostile", make_hostile)) as address:
        yield address


FOLDS = (
    "document.querySelectorAll('[data-testid=stMain] details:not([open]) > summary').forEach(e => e.click())"
)


def opened(tab: Page, url: str) -> str:
    """All text of a screen with its folds open."""
    show(tab, url)
    tab.evaluate(FOLDS)
    tab.wait_for_timeout(300)
    tab.wait_for_function(DONE)
    return str(tab.locator("[data-testid=stMain]").inner_text())


@pytest.mark.parametrize("screen", PATHS)
def test_hostile_text_is_shown_and_not_drawn(screen: str, hostile: str, tab: Page) -> None:
    outside: list[str] = []
    tab.on(
        "request",
        lambda r: outside.append(r.url) if urlsplit(r.url).hostname not in {"127.0.0.1", None} else None,
    )
    text = opened(tab, f"{hostile}/{screen}?{urlencode(PATHS[screen])}")
    assert tab.evaluate(BECAME) == []
    assert HOST in text.replace("\N{WORD JOINER}", "")
    requested = dict.fromkeys(("athlete", "camp", "measure", "plan", "section", "sure"), SIGNS)
    if PATHS[screen]:  # the others read no address
        opened(tab, f"{hostile}/{screen}?{urlencode(requested)}")
        assert tab.evaluate(BECAME) == []
    assert outside == []
