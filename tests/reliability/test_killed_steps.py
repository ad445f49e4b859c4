"""Stops an erasure, a backup and a restore at each of their steps: nothing is lost, nothing is left.

Backups and restores clean up after themselves, so a process of its own is killed with signal 9. An erasure leaves
everything to its journal: it is stopped in this process by what nothing of ours catches, many times as quickly.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import shutil
import signal
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from latewood.pipeline import durable, steps
from latewood.pipeline.care.backup import back_up, verify
from latewood.pipeline.care.check import check_folder
from latewood.pipeline.care.erase import erase, finish
from latewood.pipeline.care.erase_scan import remainders
from latewood.pipeline.care.erase_sought import sought
from latewood.pipeline.care.restore import restore
from latewood.pipeline.cli.tidy import tidy
from latewood.pipeline.ingest.logs import audit, erasing, leftovers
from tests.reliability.conftest import content

SEED = 20320820
Act = Callable[[Path], object]


def _erase(root: Path) -> object:
    return erase(root, "T2", "Dana")


def _back_up(root: Path) -> object:
    return back_up(root, root.parent / "b.zip", "Ira")


def _restore(root: Path) -> object:
    return restore(root.parent / "b.zip", root.parent / "other", "Ira", nobody_erased=True)


def _killed(action: Act, root: Path, at: int) -> None:
    left = [at]

    def die(_: str) -> None:
        left[0] -= 1
        if left[0] < 0:
            os.kill(os.getpid(), signal.SIGKILL)

    steps.watch(die)
    action(root)


def _kill(action: Act, root: Path, at: int) -> None:
    context = multiprocessing.get_context(
        "forkserver"
    )  # a fork of this process would take DuckDB's locks along
    context.set_forkserver_preload([__name__])
    process = context.Process(target=_killed, args=(action, root, at))
    process.start()
    process.join()
    assert process.exitcode == -signal.SIGKILL, at


class _Stop(BaseException):
    """What stops an action as if its process had ended."""


def _stop(action: Act, root: Path, wanted: Callable[[str], bool]) -> str:
    """Do an action up to the first step that is wanted; returns the step, or '' where the action came to its end."""

    def die(step: str) -> None:
        if wanted(step):
            raise _Stop(step)

    end = steps.watch(die)
    try:
        action(root)
    except _Stop as stopped:
        return str(stopped)
    finally:
        end()
    return ""


def _reached(action: Act, root: Path) -> list[str]:
    observed: list[str] = []
    end = steps.watch(observed.append)
    try:
        action(root)
    finally:
        end()
    return observed


def _sentence(root: Path) -> bytes:
    return b"".join(p.read_bytes() for p in root.rglob("*") if p.is_file() and p.suffix != ".duckdb")


def _in_turn(seen: list[str]) -> list[int]:
    """The first and the last time of every step, in an order drawn from the seed."""
    places = {seen.index(one) for one in seen} | {len(seen) - 1 - seen[::-1].index(one) for one in seen}
    return random.Random(SEED).sample(sorted(places), len(places))


@pytest.fixture
def fresh(lived_root: Path, tmp_path: Path) -> Callable[[], Path]:
    """Makes the same camp anew at the same place."""

    def made() -> Path:
        for path in tmp_path.iterdir():
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        return Path(shutil.copytree(lived_root, tmp_path / "data"))

    return made


@pytest.fixture(scope="module")
def erased(lived_root: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[str]]:
    """The camp after an erasure that nothing stopped, and its steps."""
    root = Path(shutil.copytree(lived_root, tmp_path_factory.mktemp("erased") / "data"))
    return root, _reached(_erase, root)


def _assert_finished(root: Path, like: Path, at: str) -> None:
    assert b"Siltwood" not in _sentence(root), at
    assert remainders(root, sought("T2", ("Bram Siltwood",))) == [], at
    assert not (root / erasing.FOLDER).exists(), at
    assert len(list((root / "warehouse").glob("build-*.duckdb"))) == 1, at
    assert content(root) == content(like), at
    assert sum(line.event == "erasure" for line in audit.lines(root)) == 1, at
    assert not [f for f in check_folder(root) if f.wrong], at


def _assert_stated(root: Path, at: str) -> None:
    begun = (root / erasing.FOLDER).exists()
    words = [f for f in check_folder(root) if "erasure is not finished" in f.what]
    assert bool(words) == begun, at
    assert all(f.wrong and erasing.COMMAND in f.mend for f in words)


def test_an_erasure_killed_at_every_step_in_turn_is_finished_at_last(fresh, erased) -> None:
    done, observed = erased
    assert {"token noted", "new file landed", "old file out", "built", "older builds deleted"} <= set(
        observed
    )
    root, died = fresh(), Counter[str]()
    while at := _stop(_erase if not died["journal begun"] else finish, root, lambda step: not died[step]):
        died[at] += 1
        _assert_stated(root, at)
    _assert_finished(root, done, "the last step")
    # what was done before a kill is not done again: the steps that were passed by so die in a folder of their own
    for step in sorted(set(observed) - set(died)):
        root = fresh()
        died[_stop(_erase, root, step.__eq__)] += 1
        _assert_stated(root, step)
        finish(root)
        _assert_finished(root, done, step)
    assert set(died) == set(observed)


def test_a_backup_killed_at_any_step_leaves_no_part_of_it(fresh) -> None:
    root = fresh()
    observed = _reached(_back_up, root)
    for at in _in_turn(observed):
        root = fresh()
        _kill(_back_up, root, at)
        parts = list(root.parent.glob(".*.part"))
        for path in (*parts, *(root / leftovers.FOLDER).iterdir()):
            os.utime(path, (0, 0))  # a minute and more ago: an empty part may have a writer who has not begun
        assert [one.path for one in leftovers.find(root) if one.path.exists()] == parts
        assert bool([f for f in check_folder(root) if "killed backup" in f.what]) == bool(parts)
        tidy(root)
        assert list(root.parent.glob(".*.part")) == []
        assert not (root / leftovers.FOLDER).exists()
        if (root.parent / "b.zip").exists():
            assert verify(root.parent / "b.zip").members
            (root.parent / "b.zip").unlink()
        back_up(root, root.parent / "b.zip", "Ira")


def test_a_restore_killed_at_any_step_leaves_no_part_of_it(fresh) -> None:
    root = fresh()
    _back_up(root)
    observed = _reached(_restore, root)
    for at in _in_turn(observed):
        shutil.rmtree(root.parent / "other", ignore_errors=True)
        _kill(_restore, root, at)
        other = root.parent / "other"
        parts = [path for path in root.parent.glob(".other.*.part") if any(path.iterdir())]
        assert bool([f for f in check_folder(other) if "killed restore" in f.what]) == bool(parts), observed[
            at
        ]
        tidy(other)
        assert not [path for path in root.parent.glob(".other.*.part") if any(path.iterdir())], observed[at]
        full = other.exists()
        assert full == (observed[at] == "folder named")
        if full:
            assert content(other) == content(root)
    shutil.rmtree(root.parent / "other", ignore_errors=True)
    _restore(root)
    assert content(root.parent / "other") == content(root)


def test_what_somebody_is_writing_is_left_alone(lived: Path) -> None:
    part = lived / ".x.0123.part"
    with part.open("wb") as stream:
        stream.write(b"half")
        stream.flush()
        durable.hold(stream.fileno())
        assert leftovers.find(lived) == ()
    assert [one.path for one in leftovers.sweep(lived)] == [part]
    assert not part.exists()
