"""Which code a build was made by."""

from __future__ import annotations

import hashlib
from importlib import metadata, resources
from importlib.resources.abc import Traversable


def code_version() -> str:
    """The version of the package with a hash of its sources, so that changed code makes a new build."""
    full = hashlib.sha256()
    for item in _sources(resources.files("latewood.pipeline")):
        full.update(item.read_bytes())
    return f"{metadata.version('latewood')}+{full.hexdigest()[:8]}"


def _sources(folder: Traversable) -> list[Traversable]:
    result: list[Traversable] = []
    for item in sorted(folder.iterdir(), key=lambda i: i.name):
        if item.is_dir() and item.name != "__pycache__":
            result += _sources(item)
        elif item.name.endswith((".py", ".sql", ".toml", ".csv")):
            result.append(item)
    return result
