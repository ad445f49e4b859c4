"""Results of earlier builds, kept by what they were made from, so that a build refits only what changed.

A result is found again under a hash of everything that goes into it: the step, its inputs, the code, the
catalogue and the versions of the libraries. An input that changed in one digit has another hash, so a build with
the memo and one without give the same. Both take every result through the same table, also on the way out.

The entries are columns as bytes (packed.py) behind their hash, in warehouse/memo/. One that is missing, half written
or damaged is made anew. They hold people's values like the warehouse itself: an erasure empties the folder.
"""

from __future__ import annotations

import hashlib
import os
import platform
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from importlib import metadata
from pathlib import Path
from typing import Final, TypeVar

import pandas as pd

from latewood.pipeline.warehouse import packed
from latewood.pipeline.warehouse.packed import Columns, DamagedError

FOLDER: Final = "memo"
SUFFIX: Final = ".memo"
_DIGEST: Final = 32  # bytes of the hash before the content
MOST_BYTES: Final = 1_000_000_000  # entries that the last build did not use are kept up to here, newest first
_LIBRARIES: Final = ("numpy", "scipy", "pandas", "statsmodels", "duckdb")

Result = TypeVar("Result")


@dataclass(slots=True, kw_only=True)
class Memo:
    """The entries of one data folder; without a folder nothing is kept. `reads` is off in a fresh build."""

    folder: Path | None = None
    salt: str = ""
    reads: bool = True
    found: int = 0
    made: int = 0
    used: set[str] = field(default_factory=set)
    digests: dict[int, tuple[pd.DataFrame, str]] = field(default_factory=dict)

    def results(
        self, kind: type[Result], step: str, inputs: Sequence[object], make: Callable[[], Sequence[Result]]
    ) -> tuple[Result, ...]:
        """Frozen results of one class, found or made. `inputs` are frames, results and plain values."""
        columns = self._columns(step, inputs, lambda: packed.of_results(kind, make()))
        return tuple(kind(**row) for row in packed.rows_of(columns))

    def frame(self, step: str, inputs: Sequence[object], make: Callable[[], pd.DataFrame]) -> pd.DataFrame:
        """A frame, found or made; its index is not kept."""
        return packed.to_frame(self._columns(step, inputs, lambda: packed.of_frame(make())))

    def categories(
        self, step: str, inputs: Sequence[object], make: Callable[[], pd.DataFrame]
    ) -> pd.DataFrame:
        """The same with its texts as categories, for frames with the same few texts in many rows."""
        return packed.to_categories(self._columns(step, inputs, lambda: packed.of_frame(make())))

    def _columns(self, step: str, inputs: Sequence[object], make: Callable[[], Columns]) -> Columns:
        if self.folder is None:
            return make()
        known = self._collected(step, inputs)
        return known if known is not None else self._kept(step, inputs, make())

    def find_frame(self, step: str, inputs: Sequence[object]) -> pd.DataFrame | None:
        """A frame that was kept; None where it has to be made, which `keep_frame` then takes."""
        known = self._collected(step, inputs)
        return None if known is None else packed.to_frame(known)

    def keep_frame(self, step: str, inputs: Sequence[object], frame: pd.DataFrame) -> None:
        """Keep a frame that `find_frame` did not find; its index is not kept."""
        self._kept(step, inputs, packed.of_frame(frame))

    def _collected(self, step: str, inputs: Sequence[object]) -> Columns | None:
        if self.folder is None:
            return None
        name = self._name(step, inputs)
        known = _read(self.folder / name) if self.reads else None
        self.used.add(name)
        self.found += known is not None
        return known

    def _kept(self, step: str, inputs: Sequence[object], columns: Columns) -> Columns:
        self.made += 1
        if self.folder is not None:
            _write(self.folder / self._name(step, inputs), columns)
        return columns

    def _name(self, step: str, inputs: Sequence[object]) -> str:
        parts = (self._digest(one) if isinstance(one, pd.DataFrame) else one for one in inputs)
        return f"{step}-{digest_of(self.salt, step, *parts)}{SUFFIX}"

    def _digest(self, frame: pd.DataFrame) -> str:
        """The hash of a frame, made once for as long as the memo lives: a frame that went in is not changed."""
        known = self.digests.get(id(frame))
        if known is None:  # the frame is kept with its hash, so that no other can take its place in memory
            known = self.digests[id(frame)] = (frame, digest_of(frame))
        return known[1]

    def prune(self, most_bytes: int = MOST_BYTES) -> None:
        """Delete what was half written, and of the entries not used the oldest that are over the bound."""
        if self.folder is None or not self.folder.exists():
            return
        left = most_bytes
        entries = [(path, path.stat()) for path in self.folder.iterdir()]
        for path, state in sorted(entries, key=lambda e: (e[0].name not in self.used, -e[1].st_mtime)):
            left -= state.st_size
            if path.suffix != SUFFIX or (left < 0 and path.name not in self.used):
                path.unlink(missing_ok=True)


def memo_of(root: Path, *code: str, reads: bool = True) -> Memo:
    """The memo of a data folder under the given code and catalogue."""
    versions = [f"{name} {metadata.version(name)}" for name in _LIBRARIES]
    return Memo(
        folder=root / "warehouse" / FOLDER,
        salt="\n".join([*code, *versions, platform.python_version(), platform.machine()]),
        reads=reads,
    )


def age(root: Path) -> None:
    """Mark every entry as not used; a build marks what it uses again. The build lock is held."""
    for path in (root / "warehouse" / FOLDER).glob(f"*{SUFFIX}"):
        os.utime(path, (0, 0))


def forget_aged(root: Path) -> None:
    """Delete every entry that no build has used since `age`, and what was half written. The build lock is held."""
    folder = root / "warehouse" / FOLDER
    for path in folder.iterdir() if folder.exists() else ():
        if path.suffix != SUFFIX or path.stat().st_mtime == 0:
            path.unlink(missing_ok=True)


def digest_of(*parts: object) -> str:
    """A hash of frames by their columns and values, and of everything else by its exact text."""
    full = hashlib.sha256()
    for part in parts:
        text = packed.pack(packed.of_frame(part)) if isinstance(part, pd.DataFrame) else repr(part).encode()
        full.update(f"{len(text)}\n".encode())
        full.update(text)
    return full.hexdigest()[:40]


def kept_columns(path: Path) -> Columns:
    """The columns of one entry. Raises OSError, and DamagedError for another content than was written."""
    content = path.read_bytes()
    digest, body = content[:_DIGEST], content[_DIGEST:]
    if hashlib.sha256(body).digest() != digest:
        raise DamagedError("its content is not the one that was written")
    return packed.unpack(body)


def _read(path: Path) -> Columns | None:
    try:
        columns = kept_columns(path)
        os.utime(path)
    except (OSError, DamagedError):
        return None
    return columns


def _write(path: Path, columns: Columns) -> None:
    """Write an entry so that a reader sees all of it or nothing; one that cannot be kept is made again.

    It is not forced to the disk: what a power cut leaves half written does not have its hash, and is made again.
    """
    waiting = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with waiting.open("wb") as stream:
            body = packed.pack(columns)
            stream.write(hashlib.sha256(body).digest() + body)
        waiting.replace(path)
    except OSError:
        with suppress(OSError):
            waiting.unlink(missing_ok=True)
