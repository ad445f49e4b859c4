"""The build that follows typed values: once they have ended, once more for those that came meanwhile."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

from latewood.dashboard.actions import following
from latewood.dashboard.actions.following import Follower


def until(holds: Callable[[], bool], seconds: float = 20.0) -> bool:
    end = time.monotonic() + seconds
    while not holds() and time.monotonic() < end:
        time.sleep(0.01)
    return holds()


def test_values_typed_one_after_the_other_are_one_build() -> None:
    done: list[float] = []
    follower = Follower(run=lambda: done.append(time.monotonic()), quiet=1.0)
    for _ in range(5):
        follower.typed()
        last = time.monotonic()
    assert until(lambda: bool(done))
    assert done[0] - last >= 0.99
    time.sleep(0.2)
    assert len(done) == 1


def test_a_row_of_values_without_end_does_not_put_the_build_off_for_ever() -> None:
    done = threading.Event()
    follower = Follower(run=done.set, quiet=60.0, longest=0.3)
    follower.typed()
    assert done.wait(20.0)


def test_a_value_typed_while_a_build_runs_is_followed_by_another() -> None:
    began, go_on, runs = threading.Event(), threading.Event(), []

    def run() -> None:
        runs.append(1)
        began.set()
        go_on.wait(20.0)

    follower = Follower(run=run, quiet=0.01)
    follower.typed()
    assert began.wait(20.0)
    follower.typed()
    follower.typed()
    time.sleep(0.1)
    assert len(runs) == 1  # never two at a time
    go_on.set()
    assert until(lambda: len(runs) == 2)


def test_a_build_that_cannot_be_started_is_tried_again_with_the_next_value() -> None:
    tried: list[int] = []

    def run() -> None:
        tried.append(1)
        raise OSError

    follower = Follower(run=run, quiet=0.01)
    follower.typed()
    assert until(lambda: len(tried) == 1)
    follower.typed()
    assert until(lambda: len(tried) == 2)


def test_only_a_server_that_is_to_build_by_itself_does(monkeypatch, tmp_path) -> None:
    built: list[object] = []
    monkeypatch.setattr(following, "build_apart", built.append)
    monkeypatch.setattr(following, "_FOLLOWERS", {})
    monkeypatch.setenv("LATEWOOD_DATA", str(tmp_path))
    monkeypatch.delenv("LATEWOOD_FOLLOW", raising=False)
    following.soon()
    assert not following._FOLLOWERS
    monkeypatch.setenv("LATEWOOD_FOLLOW", "1")
    following.soon()
    (follower,) = following._FOLLOWERS.values()
    assert follower.quiet == following.QUIET_SECONDS


def test_what_the_build_does_is_seen_and_somebody_can_have_it_at_once() -> None:
    began, go_on = threading.Event(), threading.Event()

    def run() -> None:
        began.set()
        go_on.wait(20.0)

    follower = Follower(run=run, quiet=60.0)
    assert (follower.state, follower.seconds) == ("", 0.0)
    follower.typed()
    assert follower.state == following.WAITING
    follower.typed(at_once=True)
    assert began.wait(10.0)
    assert follower.state == following.RUNNING
    assert follower.seconds > 0
    go_on.set()
    assert until(lambda: not follower.state)
