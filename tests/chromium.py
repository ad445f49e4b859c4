"""Marks the tests of a folder as needing a Chromium, and leaves them out where there is none to be had."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

NO_BROWSER = "no Chromium on this machine; install it with: apt-get install chromium"


def mark_browser_tests(items: list[pytest.Item], folder: Path) -> None:
    """Skip without a Chromium, but never under CI: there a missing one has to fail."""
    missing = not any(shutil.which(name) for name in ("chromium", "chromium-browser", "google-chrome"))
    for item in items:
        if folder in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if missing and os.environ.get("CI") != "true":
                item.add_marker(pytest.mark.skip(reason=NO_BROWSER))
