"""A folder that several tests only read is made once in a run, by whichever process needs it first."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from filelock import FileLock

MADE = "made.txt"  # written last: where in the shared folder the made one lies


def shared(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], Path]) -> Path:
    """The folder that `make` returns, made under a folder of its own for all processes of this run; to be read only.

    Another run makes its own, so that nothing made by older code is ever read.
    """
    base = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        base = base.parent
    folder = base / f"shared-{name}"
    with FileLock(f"{folder}.lock"):
        if not (folder / MADE).exists():
            shutil.rmtree(folder, ignore_errors=True)  # what an attempt that failed left
            folder.mkdir()
            made = make(folder)
            (folder / MADE).write_text(str(made.relative_to(folder)), encoding="utf-8")
    return folder / (folder / MADE).read_text(encoding="utf-8")
