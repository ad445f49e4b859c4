"""Modules of scipy that are brought in at their first use: importing them takes longer than most commands run."""

from __future__ import annotations

from importlib import import_module
from typing import Any, Final


class _Later:
    """Hands on what is asked of it to a module, which is imported then."""

    def __init__(self, name: str) -> None:
        """Nothing is imported yet."""
        self._name = name

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401  whatever the module has
        return getattr(import_module(self._name), name)


stats: Final = _Later("scipy.stats")
signal: Final = _Later("scipy.signal")  # brings in scipy.stats itself
transform: Final = _Later("scipy.spatial.transform")
