"""The build that follows typed values by itself: in a process of its own, once nobody has typed for a while.

Only a server that `latewood serve` started does so. What a build is kept from is noted by the build itself, and Monday
says it; the values are on the disk whatever becomes of it.
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from latewood.pipeline.ingest.program import FOLLOWS, data_dir

QUIET_SECONDS: Final = 8.0  # without a typed value: a row of athletes at a scale is one build, not one each
LONGEST_SECONDS: Final = 120.0  # from the first typed value on, however many follow
POLITE: Final = 10  # the build gives way to the screens


@dataclass(slots=True)
class Follower:
    """Starts `run` once nobody has typed for `quiet` seconds, at the latest after `longest`; one at a time.

    Values that are typed while it runs start it once more.
    """

    run: Callable[[], None]
    quiet: float = QUIET_SECONDS
    longest: float = LONGEST_SECONDS
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _first: float | None = None
    _last: float = 0.0
    _at_work: bool = False

    def typed(self) -> None:
        """A value was typed now."""
        with self._lock:
            self._last = time.monotonic()
            self._first = self._last if self._first is None else self._first
            if not self._at_work:
                self._at_work = True
                threading.Thread(target=self._follow, daemon=True).start()

    def _follow(self) -> None:
        while True:
            with self._lock:
                if self._first is None:
                    self._at_work = False
                    return
                due = min(self._last + self.quiet, self._first + self.longest)
                wait = due - time.monotonic()
                if wait <= 0:
                    self._first = None
            if wait > 0:
                time.sleep(wait)
            else:
                with suppress(OSError):  # no process could be started: the next typed value tries again
                    self.run()


def follows() -> bool:
    """Whether this server builds by itself after values were typed."""
    return os.environ.get(FOLLOWS) == "1"


def soon() -> None:
    """Have a build follow what was just typed; nothing where this server does not build by itself."""
    if follows():
        _follower(data_dir()).typed()


_FOLLOWERS: dict[Path, Follower] = {}
_LOCK = threading.Lock()


def _follower(root: Path) -> Follower:
    with _LOCK:
        if root not in _FOLLOWERS:
            _FOLLOWERS[root] = Follower(run=lambda: build_apart(root))
        return _FOLLOWERS[root]


def build_apart(root: Path) -> None:
    """Build a data folder in another process, and wait for its end. Raises OSError where none can be started."""
    command = [sys.executable, "-m", "latewood", "build", "--data", str(root)]
    other = subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    if hasattr(os, "setpriority"):
        with suppress(OSError):  # it has ended, or the system lets nobody
            os.setpriority(os.PRIO_PROCESS, other.pid, POLITE)
    other.wait()
