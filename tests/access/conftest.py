"""The two camps, built once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.two_camps import make_two_camps


@pytest.fixture(scope="session")
def two_camps(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_two_camps(tmp_path_factory.mktemp("two"))


@pytest.fixture
def data_folder(two_camps: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("LATEWOOD_DATA", str(two_camps))
    return two_camps


@pytest.fixture
def own_camps(two_camps: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy that a test may write to."""
    folder = Path(shutil.copytree(two_camps, tmp_path / "camps"))
    monkeypatch.setenv("LATEWOOD_DATA", str(folder))
    return folder
