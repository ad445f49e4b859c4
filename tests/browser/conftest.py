"""The dashboard on the demo, served once, and the Chromium of this machine."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.warehouse.connection import open_published
from tests.chromium import mark_browser_tests
from tests.looks import DESK, Look, Tabs, empty
from tests.tools.shots import picked_athlete, serving


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    mark_browser_tests(items, Path(__file__).parent)


@pytest.fixture(scope="session")
def address(demo_root: Path) -> Iterator[str]:
    with serving(demo_root) as served:
        yield served


@pytest.fixture
def own_address(demo_root: Path, tmp_path: Path) -> Iterator[tuple[str, Path, str, str]]:
    """A copy of the demo that may be written to: its address, folder, an athlete with consent and their camp."""
    root = Path(shutil.copytree(demo_root, tmp_path / "data"))
    free = [athlete for athlete, why in consent_book.refusals(root).items() if not why]
    query = (
        "select athlete_id, label from stay join camp using (camp_id) where list_contains($free, athlete_id) "
        "order by camp_id desc, athlete_id limit 1"
    )
    with closing(open_published(root)) as connection:
        result = connection.execute(query, {"free": free}).fetchone()
    assert result is not None
    with serving(root) as served:
        yield served, root, result[0], result[1]


@pytest.fixture(scope="session")
def athlete_id(demo_root: Path) -> str:
    return picked_athlete(demo_root)


@pytest.fixture(scope="session")
def behind(demo_root: Path) -> tuple[str, str]:
    """A camp and a measure with its line that has athletes behind it."""
    query = (
        "select camp_id, measure || '|' || line from trend group by all order by count(*) desc, 1, 2 limit 1"
    )
    with closing(open_published(demo_root)) as connection:
        result = connection.execute(query).fetchone()
    assert result is not None
    return result


@pytest.fixture(scope="session")
def tabs(machine_browser: Browser) -> Tabs:
    return Tabs(machine_browser)


@pytest.fixture
def tab_as(tabs: Tabs) -> Iterator[Callable[[Look], Page]]:
    """A tab as somebody sees it with this screen; after the test nothing is left in it."""
    given: list[Page] = []

    def of(look: Look) -> Page:
        given.append(tabs.of(look))
        return given[-1]

    yield of
    for page in given:
        empty(page)


@pytest.fixture
def tab(tab_as: Callable[[Look], Page]) -> Page:
    return tab_as(DESK)
