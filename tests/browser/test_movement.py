"""In a real browser: a trial is drawn with every channel, and its day and trial are picked by hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.movement_folder import MARLWICK, REEDWHISTLE, movement_folder
from tests.shared import shared
from tests.tools.shots import serving


@pytest.fixture(scope="module")
def traced_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shared(tmp_path_factory, "traced", lambda at: movement_folder(at, MARLWICK, REEDWHISTLE))


@pytest.fixture(scope="module")
def traced(traced_root: Path) -> Iterator[str]:
    with serving(traced_root) as address:
        yield address


def test_a_trial_is_drawn_with_every_channel_and_another_is_picked(tab: Page, traced: str) -> None:
    tab.goto(f"{traced}/athlete?athlete={MARLWICK}&section=movement")
    tab.get_by_text("One trial as recorded").wait_for(timeout=60_000)
    tab.get_by_text("Draw it", exact=True).click()
    tab.get_by_text("1000 samples a second").wait_for(timeout=30_000)
    for name in ("Pelvis", "Torso", "Lead arm", "Bat"):
        channel = tab.locator(f"[aria-label^='{name}, 25 Jul 2033, trial 2']")
        channel.first.wait_for(state="attached", timeout=30_000)
    trial = tab.get_by_role("combobox", name="Trial")
    trial.scroll_into_view_if_needed()
    tab.wait_for_timeout(2000)  # charts above are drawn as they come into view, and move what stands below
    trial.click()
    tab.get_by_text("Trial 3: 1 to look at").click()
    drawn = tab.locator("[aria-label*='a drop-out of 26 ms lies at the peak']")
    drawn.first.wait_for(timeout=30_000)


def test_two_days_stand_on_one_axis_at_first_sight(tab: Page, traced: str) -> None:
    tab.goto(f"{traced}/athlete?athlete={MARLWICK}&section=movement")
    drawn = tab.locator("[aria-label*='on one axis, ms from contact. Peaks of 16 Jun 2033: torso']")
    drawn.first.wait_for(state="attached", timeout=60_000)
    tab.get_by_role("combobox", name="Segment").click()
    tab.get_by_role("option", name="Pelvis", exact=True).click()
    alone = tab.locator("[aria-label^='Rotational speed of pelvis on one axis']")
    alone.first.wait_for(state="attached", timeout=30_000)
