"""The published file kept open between reads, since opening it takes longer than most reads of it."""

from __future__ import annotations

from contextlib import AbstractContextManager, closing
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

import duckdb

from latewood.pipeline.warehouse.connection import open_published, published_path


@dataclass(frozen=True, slots=True, kw_only=True)
class _Held:
    file: tuple[str, int, int, int]  # name, inode, size, time of writing: another build is another file
    connection: duckdb.DuckDBPyConnection


class Reader:
    """One read-only connection to whatever is published; threads read side by side, each with a cursor of its own.

    An older build is let go of at the first read after a newer one is published, and its file closed once the last
    read of it has ended.
    """

    def __init__(self) -> None:
        """Nothing is opened before the first read."""
        self._lock = Lock()
        self._held: _Held | None = None

    def cursor(self, root: Path) -> AbstractContextManager[duckdb.DuckDBPyConnection]:
        """A cursor on the published build of a data folder, closed at the end. Raises NothingPublishedError."""
        with self._lock:
            stated = _stated(root)
            if self._held is None or self._held.file != stated:
                self._held = (
                    None  # let go first: a file of the same name would be the same database to DuckDB
                )
                self._held = _Held(file=stated, connection=open_published(root))
            return closing(self._held.connection.cursor())


def _stated(root: Path) -> tuple[str, int, int, int]:
    path = published_path(root)
    try:
        result = path.stat()
    except FileNotFoundError:  # a build came between, and the older file is gone
        path = published_path(root)
        result = path.stat()
    return str(path), result.st_ino, result.st_size, result.st_mtime_ns


READER = Reader()
