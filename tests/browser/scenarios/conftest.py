"""The scenarios are looked at in few sittings: one served demo to read, one copy of it to write in."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from latewood.pipeline.warehouse.connection import open_published
from tests.tools.shots import serving


@dataclass(frozen=True)
class Desk:
    """A tab on the served screens, where they are, and the data folder behind them."""

    tab: Page
    address: str
    root: Path

    def id_of(self, name: str) -> str:
        with closing(open_published(self.root)) as connection:
            result = connection.execute(
                "select athlete_id from athlete where display_name = $name", {"name": name}
            ).fetchall()
        assert len(result) == 1, name
        return str(result[0][0])

    def athlete(self, name: str, section: str = "all") -> str:
        """The address of an athlete's page with one of its sections open, or every one."""
        return f"{self.address}/athlete?athlete={self.id_of(name)}&section={section}"

    def plan(self, name: str) -> str:
        """The address of the plan that is reviewed now."""
        with closing(open_published(self.root)) as connection:
            result = connection.execute(
                "select plan_id from plan_review where athlete_id = $who", {"who": self.id_of(name)}
            ).fetchall()
        assert len(result) == 1, name
        return f"{self.address}/plan?plan={result[0][0]}"


def _tab(browser: Browser) -> Page:
    return browser.new_context(viewport={"width": 1440, "height": 900}, accept_downloads=True).new_page()


@pytest.fixture(scope="session")
def demo(machine_browser: Browser, address: str, demo_root: Path) -> Iterator[Desk]:
    """The demo, to be read only."""
    tab = _tab(machine_browser)
    yield Desk(tab=tab, address=address, root=demo_root)
    tab.context.close()


@pytest.fixture(scope="session")
def own_demo(
    machine_browser: Browser, demo_root: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Desk]:
    """A copy of the demo, to be written in."""
    root = Path(shutil.copytree(demo_root, tmp_path_factory.mktemp("own") / "data"))
    with serving(root) as served:
        tab = _tab(machine_browser)
        yield Desk(tab=tab, address=served, root=root)
        tab.context.close()
