"""The only place that writes what must not be lost: written, forced to the disk, renamed, the folder forced too.

A file appears whole under its name or not at all. Lines are added to a file so that a crash leaves at most one torn
line at its end, which no reader takes for a line and the next writer cuts off.
"""

from __future__ import annotations

import errno
import io
import os
import secrets
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from filelock import FileLock, Timeout

from latewood.pipeline.errors import BusyError, StorageError

if sys.platform != "win32":
    import fcntl

UNFINISHED = ".part"  # the end of the name of a file that is being written
_BLOCK = 65_536
_JUST_MADE = 60.0  # seconds for which an empty one is left alone: its writer may not hold it yet
_GIVEN_UP = 86_400.0  # seconds after which one counts as abandoned where the system cannot tell
_MENDS = {
    errno.ENOSPC: "the disk is full: free some space and do it again",
    errno.EDQUOT: "the disk quota is used up: free some space and do it again",
    errno.EFBIG: "the file would be larger than this account may write; raise the limit and do it again",
    errno.EROFS: "the disk can only be read: make it writable and do it again",
    errno.EACCES: "this user may not write there: correct owner or permissions and do it again",
    errno.EPERM: "this user may not write there: correct owner or permissions and do it again",
    errno.EIO: "the disk reports a fault: copy the data folder to another disk and restore a backup there",
}


def storage_error(path: Path, error: OSError) -> StorageError:
    """What went wrong when a file was written, in words, with the fix."""
    fix = _MENDS.get(error.errno or 0, "look at the disk and do it again")
    return StorageError(f"{path.name}: could not be written ({error.strerror or error}); {fix}")


def write_atomically(path: Path, content: bytes, mode: int = 0o666) -> None:
    """Write a file so that a reader, or a crash, sees all of it or what was there before.

    The folder is made where it is missing. Raises StorageError; then nothing has changed.
    """
    waiting = waiting_beside(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            with os.fdopen(os.open(waiting, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as stream:
                hold(stream.fileno())
                stream.write(content)
                force(stream)
            waiting.replace(path)
        except BaseException:
            with suppress(OSError):
                waiting.unlink(missing_ok=True)
            raise
        force_folder(path.parent)
    except OSError as error:
        raise storage_error(path, error) from error


def waiting_beside(path: Path) -> Path:
    """A new name beside a file or folder, under which it is written until it is whole."""
    return path.with_name(f".{path.name[-80:]}.{secrets.token_hex(6)}{UNFINISHED}")


def hold(handle: int) -> None:
    """Mark an open file or folder as being written by this process, for as long as it is open and the process lives."""
    if sys.platform != "win32":
        with suppress(OSError):  # a file system without locks: its leftovers go by their age
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


@contextmanager
def held_folder(folder: Path) -> Iterator[None]:
    """Mark a folder as being filled by this process."""
    if sys.platform == "win32":
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        hold(handle)
        yield
    finally:
        os.close(handle)


def abandoned(path: Path) -> bool:
    """Whether nobody who lives is writing an unfinished file or folder any more."""
    try:
        state, age = path.stat(), time.time() - path.stat().st_mtime
        empty = not any(path.iterdir()) if path.is_dir() else state.st_size == 0
        if empty and age < _JUST_MADE:
            return False
        if sys.platform == "win32":
            return age > _GIVEN_UP
        handle = os.open(path, os.O_RDONLY)
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    finally:
        os.close(handle)
    return True


def append_lines(path: Path, lines: bytes) -> None:
    """Add whole lines at the end of a file and wait until they are on the disk; a torn last line is cut off first.

    The caller holds the file's lock. Raises StorageError; then the file is as it was.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        new = not path.exists()
        # Unbuffered: what a full disk refused must not be written after all when the file is closed.
        with os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT, 0o666), "r+b", buffering=0) as stream:
            end = _end_of_lines(stream)
            try:
                _write_from(stream, end, lines)
            except OSError:
                with suppress(OSError):
                    stream.truncate(end)
                raise
        if new:
            force_folder(path.parent)
    except OSError as error:
        raise storage_error(path, error) from error


def _write_from(stream: io.FileIO, end: int, lines: bytes) -> None:
    stream.truncate(end)
    stream.seek(end)
    left = memoryview(lines)
    while left:
        left = left[stream.write(left) :]
    os.fsync(stream.fileno())


def cut_back(path: Path, size: int) -> None:
    """Take back what was added to a file beyond a size; the caller holds the file's lock."""
    with path.open("r+b") as stream:
        stream.truncate(size)
        force(stream)


def torn_end(path: Path) -> bytes:
    """What stands behind the last whole line of a file: a line that a crash left unfinished, or nothing."""
    if not path.exists():
        return b""
    with path.open("rb") as stream:
        stream.seek(_end_of_lines(stream))
        return stream.read()


def last_line(path: Path) -> bytes:
    """The last whole line of a file without its end, read from the end; empty where there is none."""
    if not path.exists():
        return b""
    with path.open("rb") as stream:
        end, held = _end_of_lines(stream), b""
        at = max(0, end - 1)
        while at > 0 and b"\n" not in held:
            start = max(0, at - _BLOCK)
            stream.seek(start)
            held, at = stream.read(at - start) + held, start
    return held.rpartition(b"\n")[2]


def size_of(path: Path) -> int:
    """How many bytes a file has; 0 where there is none."""
    return path.stat().st_size if path.exists() else 0


def force(stream: BinaryIO) -> None:
    """Wait until what was written to an open file is on the disk."""
    stream.flush()
    os.fsync(stream.fileno())


def force_folder(folder: Path) -> None:
    """Wait until the names in a folder are on the disk; where the system cannot do that, it is left to it."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def locked(path: Path, wait: float = -1.0) -> Iterator[None]:
    """Hold a lock file; others wait. Raises BusyError after `wait` seconds (never where below 0), or StorageError."""
    lock = FileLock(str(path), timeout=wait)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        lock.acquire()
    except Timeout as error:
        raise BusyError(f"{path.name}: somebody else has been writing for {wait:.0f} s; try again") from error
    except OSError as error:
        raise storage_error(path, error) from error
    try:
        yield
    finally:
        lock.release()


def _end_of_lines(stream: BinaryIO | io.FileIO) -> int:
    """Where the last whole line ends; read from the end, so that a long log costs no more than a short one."""
    at = stream.seek(0, os.SEEK_END)
    while at > 0:
        start = max(0, at - _BLOCK)
        stream.seek(start)
        result = stream.read(at - start).rfind(b"\n")
        if result >= 0:
            return start + result + 1
        at = start
    return 0
