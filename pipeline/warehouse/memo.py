"""Results of earlier builds, kept by what they were made from, so that a build refits only what changed.

A result is found again under a hash of everything that goes into it: the step, its inputs, the code, the
catalogue and the versions of the libraries. An input that changed in one digit has another hash, so a build with
the memo and one without give the same. Both take every result through the same table, also on the way out.

The entries are Parquet files with check sums in warehouse/memo/. One that is missing, half written or damaged is
made anew. They hold people's values like the warehouse itself: an erasure empties the folder.
"""

from __future__ import annotations

import hashlib
import os
import platform
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, fields
from datetime import date
from importlib import metadata
from pathlib import Path
from types import NoneType
from typing import Final, TypeVar, get_args, get_type_hints

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import parquet

FOLDER: Final = "memo"
MOST_BYTES: Final = 1_000_000_000  # entries that the last build did not use are kept up to here, newest first
_LIBRARIES: Final = ("numpy", "scipy", "pandas", "statsmodels", "duckdb", "pyarrow")
_TYPES: Final = {str: pa.string(), float: pa.float64(), int: pa.int64(), bool: pa.bool_(), date: pa.date32()}

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
        schema = schema_of(kind)

        def table() -> pa.Table:
            made = make()
            columns = {name: [getattr(one, name) for one in made] for name in schema.names}
            return pa.Table.from_pydict(columns, schema=schema)

        return tuple(kind(**row) for row in self._table(step, inputs, table).to_pylist())

    def frame(self, step: str, inputs: Sequence[object], make: Callable[[], pd.DataFrame]) -> pd.DataFrame:
        """A frame, found or made; its index is not kept."""
        made: pd.DataFrame = self._table(step, inputs, lambda: _table_of(make())).to_pandas()
        return made

    def _table(self, step: str, inputs: Sequence[object], make: Callable[[], pa.Table]) -> pa.Table:
        if self.folder is None:
            return make()
        known = self._collected(step, inputs)
        return known if known is not None else self._kept(step, inputs, make())

    def find_frame(self, step: str, inputs: Sequence[object]) -> pd.DataFrame | None:
        """A frame that was kept; None where it has to be made, which `keep_frame` then takes."""
        known = self._collected(step, inputs)
        return None if known is None else known.to_pandas()

    def keep_frame(self, step: str, inputs: Sequence[object], frame: pd.DataFrame) -> None:
        """Keep a frame that `find_frame` did not find; its index is not kept."""
        self._kept(step, inputs, _table_of(frame))

    def _collected(self, step: str, inputs: Sequence[object]) -> pa.Table | None:
        if self.folder is None:
            return None
        name = self._name(step, inputs)
        known = _read(self.folder / name) if self.reads else None
        self.used.add(name)
        self.found += known is not None
        return known

    def _kept(self, step: str, inputs: Sequence[object], table: pa.Table) -> pa.Table:
        self.made += 1
        if self.folder is not None:
            _write(self.folder / self._name(step, inputs), table)
        return table

    def _name(self, step: str, inputs: Sequence[object]) -> str:
        parts = (self._digest(one) if isinstance(one, pd.DataFrame) else one for one in inputs)
        return f"{step}-{digest_of(self.salt, step, *parts)}.parquet"

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
            if path.suffix != ".parquet" or (left < 0 and path.name not in self.used):
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
    for path in (root / "warehouse" / FOLDER).glob("*.parquet"):
        os.utime(path, (0, 0))


def forget_aged(root: Path) -> None:
    """Delete every entry that no build has used since `age`, and what was half written. The build lock is held."""
    folder = root / "warehouse" / FOLDER
    for path in folder.iterdir() if folder.exists() else ():
        if path.suffix != ".parquet" or path.stat().st_mtime == 0:
            path.unlink(missing_ok=True)


def schema_of(kind: type) -> pa.Schema:
    """The columns of a class of results; TypeError for a field that is not plain."""
    hints = get_type_hints(kind)
    columns = []
    for one in fields(kind):
        plain = [t for t in get_args(hints[one.name]) or (hints[one.name],) if t is not NoneType]
        if len(plain) != 1 or plain[0] not in _TYPES:
            raise TypeError(f"{kind.__name__}.{one.name}: {hints[one.name]} cannot be kept in a memo")
        columns.append(pa.field(one.name, _TYPES[plain[0]]))
    return pa.schema(columns)


def digest_of(*parts: object) -> str:
    """A hash of frames by their columns and values, and of everything else by its exact text."""
    full = hashlib.sha256()
    for part in parts:
        text = _bytes_of(part) if isinstance(part, pd.DataFrame) else repr(part).encode()
        full.update(f"{len(text)}\n".encode())
        full.update(text)
    return full.hexdigest()[:40]


def _bytes_of(frame: pd.DataFrame) -> bytes:
    """The columns, which cells are empty, and the other cells; nothing that only lies under an empty one."""
    table = _table_of(frame).combine_chunks()
    empty = [column.is_null().to_numpy().tobytes() for column in table.columns]
    filled = [_filled(column) for column in table.columns]
    sink = pa.BufferOutputStream()
    full = pa.Table.from_arrays(filled, names=table.column_names)
    with pa.ipc.new_stream(sink, full.schema) as stream:
        stream.write_table(full)
    return b"".join([*empty, bytes(sink.getvalue())])


def _filled(column: pa.ChunkedArray) -> pa.ChunkedArray:
    if pa.types.is_null(column.type):
        return pa.nulls(len(column)).cast(pa.int8()).fill_null(0)
    if pa.types.is_boolean(column.type):
        return column.fill_null(False)
    if pa.types.is_string(column.type) or pa.types.is_large_string(column.type):
        # taken anew: what else lies in the memory of a text column is not its content
        return column.fill_null("").take(pa.array(np.arange(len(column))))
    return column.fill_null(
        pa.scalar(0, pa.int32()).cast(column.type) if pa.types.is_date(column.type) else 0
    )


def _table_of(frame: pd.DataFrame) -> pa.Table:
    return pa.Table.from_pandas(frame, preserve_index=False)


def _read(path: Path) -> pa.Table | None:
    try:
        table = parquet.read_table(path, page_checksum_verification=True)
    except (OSError, pa.ArrowException):
        return None
    os.utime(path)
    return table


def _write(path: Path, table: pa.Table) -> None:
    """Write an entry so that a reader, or a crash, sees all of it or nothing; one that cannot be kept is made again."""
    waiting = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with waiting.open("wb") as stream:
            parquet.write_table(table, stream, write_page_checksum=True)
            stream.flush()
            os.fsync(stream.fileno())
        waiting.replace(path)
    except OSError:
        with suppress(OSError):
            waiting.unlink(missing_ok=True)
