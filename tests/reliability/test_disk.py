"""A disk that is full, or can only be read: every action is refused in one line, and what was there is there."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from latewood.pipeline import durable
from latewood.pipeline.care.backup import back_up
from latewood.pipeline.care.check import check_folder
from latewood.pipeline.errors import BuildError, LatewoodError, StorageError
from latewood.pipeline.ingest.actions import import_files, withdraw
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.files.landing import manifests
from latewood.pipeline.ingest.logs import audit, decisions, entered, planlog
from tests.reliability.conftest import content, more
from tests.reliability.kill import ACTIONS, FIRST, Run, _action

SMALL_ACTIONS = [action for action in ACTIONS if action not in ("import", "build", "withdrawal", "decision")]


@pytest.fixture
def small_disk(lived_root: Path, tmp_path: Path) -> Iterator[Path]:
    """The data folder on a disk of a few MB of its own."""
    place = tmp_path / "disk"
    place.mkdir()
    size = sum(p.stat().st_size for p in lived_root.rglob("*") if p.is_file()) + 60_000_000
    command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
    try:
        subprocess.run(command, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError) as error:
        pytest.skip(f"this user may not mount a small disk ({error})")
    try:
        yield Path(shutil.copytree(lived_root, place / "data"))
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def _fill(root: Path) -> Path:
    """Fill the disk to the last byte; the file that does so is to be deleted to make room again."""
    ballast = root.parent / "ballast"
    with ballast.open("wb", buffering=0) as stream, suppress(OSError):
        while stream.write(b"x" * 65_536) == 65_536:
            pass
    with ballast.open("ab", buffering=0) as stream, suppress(OSError):
        while stream.write(b"x"):
            pass
    return ballast


def _state(root: Path) -> tuple[object, ...]:
    return (
        [m.import_id for m in manifests(root / "landing")], decisions.read(root / "decisions.jsonl"),
        planlog.read_log(root), entered.current_entries(root, FIRST.replace(month=8, day=20)), audit.lines(root),
    )  # fmt: skip


def test_on_a_full_disk_nothing_is_lost_and_the_last_build_is_served(
    small_disk: Path, tmp_path: Path
) -> None:
    before, state = content(small_disk), _state(small_disk)
    import_id = next(m.import_id for m in manifests(small_disk / "landing") if m.file_name == "readings.csv")
    ballast = _fill(small_disk)
    new = more(tmp_path)
    for action in (
        lambda: import_files(small_disk, [new], "Ira"),
        lambda: build(small_disk, fresh=True),
        lambda: withdraw(small_disk, import_id, "Ira", "wrong day"),
        lambda: back_up(small_disk, small_disk.parent / "b.zip", "Ira"),
    ):
        with pytest.raises(LatewoodError, match=r"disk is full|No space left|nothing was published"):
            action()
    assert content(small_disk) == before
    ballast.unlink()
    assert not (small_disk.parent / "b.zip").exists()
    assert _state(small_disk)[0] == state[0]
    assert _state(small_disk)[2:4] == state[2:4]
    assert not [f for f in check_folder(small_disk) if f.wrong]
    assert import_files(small_disk, [new], "Ira")[0].rows_taken > 0


@pytest.mark.parametrize("action", SMALL_ACTIONS)
def test_a_line_that_the_disk_refuses_was_never_written(small_disk: Path, action: str) -> None:
    state = _state(small_disk)
    ballast = _fill(small_disk)
    run = Run(number=3, action=action, how="", at=0, seconds=0)
    (small_disk.parent / "inbox").mkdir(exist_ok=True)
    words = None
    for n in range(400):  # lines fit into the rest of a block until it is full
        try:
            words = _action(small_disk, Run(number=n, action=action, how="", at=0, seconds=0))
            state = _state(small_disk)
        except StorageError as error:
            assert "the disk is full: free some space and do it again" in str(error)
            break
    else:
        pytest.fail(f"the disk never refused; last told: {words}")
    assert _state(small_disk) == state
    ballast.unlink()
    assert _state(small_disk) == state
    assert _action(small_disk, run)
    assert not [f for f in check_folder(small_disk) if f.wrong]


@pytest.fixture
def read_only(lived_root: Path, tmp_path: Path) -> Iterator[Path]:
    """The data folder on a disk that can only be read, even by root."""
    place = tmp_path / "readonly"
    shutil.copytree(lived_root, tmp_path / "data")
    place.mkdir()
    try:
        subprocess.run(
            ["mount", "--bind", str(tmp_path / "data"), str(place)], check=True, capture_output=True
        )
        subprocess.run(["mount", "-o", "remount,bind,ro", str(place)], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError) as error:
        subprocess.run(["umount", "-l", str(place)], check=False, capture_output=True)
        pytest.skip(f"this user may not mount a disk that can only be read ({error})")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_read_only_disk_is_read_and_every_deed_is_refused_in_one_line(
    read_only: Path, lived_root: Path, tmp_path: Path
) -> None:
    (tmp_path / "inbox").mkdir()
    assert content(read_only) == content(lived_root)
    assert check_folder(read_only) == check_folder(lived_root)
    for action in (*SMALL_ACTIONS, "import", "build"):
        with pytest.raises((StorageError, BuildError), match="the disk can only be read: make it writable"):
            _action(read_only, Run(number=1, action=action, how="", at=0, seconds=0))


def test_a_folder_of_somebody_else_is_refused_in_one_line(tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write everywhere; the read-only disk stands in for it")
    (tmp_path / "closed").mkdir(mode=0o500)
    with pytest.raises(StorageError, match="this user may not write there"):
        durable.write_atomically(tmp_path / "closed" / "a", b"x")
