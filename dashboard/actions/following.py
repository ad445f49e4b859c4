"""The build that follows typed values, answers and imports by itself: in a process of its own, once they have ended.

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

from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.program import FOLLOWS, data_dir
from latewood.pipeline.pages.recruit.current import supersede_joined

QUIET_SECONDS: Final = 8.0  # without a typed value: a row of athletes at a scale is one build, not one each
NAP: Final = 1.0  # for so long it does not see that somebody wants the build at once
LONGEST_SECONDS: Final = 120.0  # from the first typed value on, however many follow
POLITE: Final = 10  # the build gives way to the screens
WAITING, RUNNING = "waiting", "running"


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
    _since: float | None = None

    @property
    def state(self) -> str:
        """`running`, `waiting` for the end of the typing, or empty."""
        if self._since is not None:
            return RUNNING
        return WAITING if self._first is not None else ""

    @property
    def seconds(self) -> float:
        """How long the build that runs has been running; 0 where none does."""
        since = self._since
        return 0.0 if since is None else time.monotonic() - since

    def typed(self, *, at_once: bool = False) -> None:
        """A value was typed now; `at_once` waits for no other."""
        with self._lock:
            self._last = time.monotonic() - (self.quiet if at_once else 0.0)
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
                    self._since = time.monotonic()
            if wait > 0:
                time.sleep(min(wait, NAP))
                continue
            try:
                with suppress(OSError):  # no process could be started: the next typed value tries again
                    self.run()
            finally:
                self._since = None


def follows() -> bool:
    """Whether this server builds by itself after values were typed."""
    return os.environ.get(FOLLOWS) == "1"


def soon(*, at_once: bool = False) -> None:
    """Have a build follow what was just typed; nothing where this server does not build by itself."""
    if follows():
        _follower(data_dir()).typed(at_once=at_once)


def state() -> tuple[str, float]:
    """What the build that follows does now (`Follower.state`), and for how many seconds it has been running."""
    if not follows():
        return "", 0.0
    follower = _follower(data_dir())
    return follower.state, follower.seconds


_FOLLOWERS: dict[Path, Follower] = {}
_LOCK = threading.Lock()


def _follower(root: Path) -> Follower:
    with _LOCK:
        if root not in _FOLLOWERS:
            _FOLLOWERS[root] = Follower(run=lambda: build_apart(root))
        return _FOLLOWERS[root]


def build_apart(root: Path) -> None:
    """Build a data folder in another process, and wait for its end; sheets of joined ids are superseded then.

    Raises OSError where no process can be started.
    """
    command = [sys.executable, "-m", "latewood", "build", "--data", str(root)]
    other = subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    if hasattr(os, "setpriority"):
        with suppress(OSError):  # it has ended, or the system lets nobody
            os.setpriority(os.PRIO_PROCESS, other.pid, POLITE)
    if other.wait() == 0:
        with suppress(LatewoodError):  # asked anew whenever a sheet is checked
            supersede_joined(root)
