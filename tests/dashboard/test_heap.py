"""Loaded libraries are left out of the search for garbage, once a screen and not at every run."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from latewood.dashboard import heap

APP = str(Path(heap.__file__).parent / "app.py")


@pytest.fixture
def unfrozen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(heap, "_SEEN", set())
    gc.unfreeze()


def test_a_screen_is_frozen_at_its_first_run_only(unfrozen: None) -> None:
    assert gc.get_freeze_count() == 0
    assert heap.keep_loaded("Athlete")
    frozen = gc.get_freeze_count()
    assert frozen > 1000
    kept = [[n] for n in range(500)]
    assert not heap.keep_loaded("Athlete")
    assert gc.get_freeze_count() <= frozen  # what came since is looked through as ever
    assert heap.keep_loaded("Plans")
    assert gc.get_freeze_count() >= frozen + len(kept) - 100


def test_the_app_does_it(unfrozen: None, demo_root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LATEWOOD_DATA", str(demo_root))
    AppTest.from_file(APP, default_timeout=60).run()
    assert gc.get_freeze_count() > 100_000
