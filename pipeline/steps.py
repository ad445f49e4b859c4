"""Where a long action says which of its steps is done, so that a study of kills can stop it at each of them."""

from __future__ import annotations

from collections.abc import Callable

Watcher = Callable[[str], None]
_watchers: list[Watcher] = []


def reached(step: str) -> None:
    """Tell whoever watches that a step is done; in ordinary use nobody does."""
    for watcher in _watchers:
        watcher(step)


def watch(watcher: Watcher) -> Callable[[], None]:
    """Call this at every step from now on, in this process; returns what ends it."""
    _watchers.append(watcher)
    return lambda: _watchers.remove(watcher)
