"""The warehouse goes while a screen is open: the screen says what to do, and is there again after the next build."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from latewood.dashboard.screens.registry import SCREENS
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.warehouse.connection import published_path
from tests.opening import open_page

STAYS = {"glossary"}  # shows nothing of the warehouse


def _texts(page: AppTest) -> str:
    assert not page.exception, page.exception
    kinds = ("error", "warning", "info", "markdown", "caption")
    return " ".join(str(result.value) for kind in kinds for result in getattr(page, kind))


@pytest.mark.parametrize("screen", [s.key for s in SCREENS if s.key not in STAYS])
def test_a_screen_says_what_to_do_and_comes_back(
    lived: Path, monkeypatch: pytest.MonkeyPatch, screen: str
) -> None:
    monkeypatch.setenv("LATEWOOD_DATA", str(lived))
    page = open_page(screen)
    before = _texts(page)
    path = published_path(lived)
    kept = path.with_name("kept")
    shutil.move(path, kept)
    without = _texts(page.run())
    assert "build" in without.lower()
    assert without != before
    kept.unlink()
    build(lived)
    assert _texts(page.run()) == before
