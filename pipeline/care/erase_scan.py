"""Reads every file of a data folder, unpacked, and tells every place where an erased athlete still stands."""

from __future__ import annotations

import glob
import gzip
import io
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Final

import duckdb
import pypdf

from latewood.pipeline.care.erase_book import rows_of_book, texts_of_book
from latewood.pipeline.care.erase_sought import Sought
from latewood.pipeline.ingest.logs import erasing
from latewood.pipeline.warehouse.connection import LOCKED_DOWN, text_columns
from latewood.pipeline.warehouse.memo import SUFFIX, kept_columns
from latewood.pipeline.warehouse.packed import DamagedError

DEEPEST: Final = 4  # archives within archives
LARGEST: Final = 500_000_000  # bytes of an unpacked member; more is not unpacked but told
_IDS: Final = ("athlete", "athlete_id", "athlete_text", "joined_id", "subject")


def remainders(root: Path, sought: Sought) -> list[str]:
    """Every place in the data folder that still tells of the athlete: a file, with the line, column or member."""
    result: list[str] = []
    for path in sorted(root.rglob("*")):
        reported = path.relative_to(root)
        if reported.parts[0] in {erasing.FOLDER, erasing.LOCK}:
            continue
        if sought.found(path.name):
            result.append(f"the name of {_shown(reported, sought)}")
        if path.is_file():
            result += [f"{_shown(reported, sought)}{where}" for where in _in_file(path, sought)]
    return result


def _shown(path: Path, sought: Sought) -> str:
    """The place of a file without the name in it: an error message must not spread what is being erased."""
    return sought.replaced("/".join(part[:12] if len(part) == 64 else part for part in path.parts))


def _in_file(path: Path, sought: Sought) -> Iterator[str]:
    try:
        if path.suffix == ".duckdb":
            yield from _in_warehouse(path, sought)
        elif path.suffix == ".parquet":
            yield from _in_parquet(path, sought)
        elif path.suffix == SUFFIX:
            for column in kept_columns(path):
                if _differs(column.name, list(column.texts), sought):
                    yield f", column {column.name}"
        else:
            yield from in_content(path.name, path.read_bytes(), sought)
    except (OSError, duckdb.Error, DamagedError) as error:
        yield f": cannot be read, so nobody can say what it holds ({str(error).splitlines()[0]})"


def in_content(name: str, content: bytes, sought: Sought, depth: int = 0) -> Iterator[str]:
    """Where in the bytes of a file the athlete stands; archives are unpacked."""
    if content.startswith(b"PK\x03\x04") and depth < DEEPEST:
        yield from _in_zip(content, sought, depth)
    elif content.startswith(b"\x1f\x8b") and depth < DEEPEST:
        yield from _in_gzip(name, content, sought, depth)
    elif content.startswith(b"%PDF"):
        yield from _in_pdf(content, sought)
    else:
        yield from _in_text(content, sought)


def _in_zip(content: bytes, sought: Sought, depth: int) -> Iterator[str]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            for member in packed.infolist():
                if sought.found(member.filename):
                    yield ", the name of a member"
                if member.file_size > LARGEST:
                    yield f", {sought.replaced(member.filename)}: is too large to be unpacked"
                    continue
                for where in in_content(member.filename, packed.read(member), sought, depth + 1):
                    yield f", {sought.replaced(member.filename)}{where}"
    except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError) as error:
        yield f": cannot be unpacked, so nobody can say what it holds ({error})"
        return
    if any(sought.found(text) for text in texts_of_book(content)):
        yield ", a cell, comment or property"
    elif any(sought.found_in_row(cells) for cells in rows_of_book(content)):
        yield ", the cells of a row"


def _in_gzip(name: str, content: bytes, sought: Sought, depth: int) -> Iterator[str]:
    try:
        with gzip.open(io.BytesIO(content)) as packed:
            plain = packed.read(LARGEST + 1)
    except (OSError, EOFError, zlib.error) as error:
        yield f": cannot be unpacked, so nobody can say what it holds ({error})"
        return
    if len(plain) > LARGEST:
        yield ": is too large to be unpacked"
    yield from in_content(name, plain, sought, depth + 1)


def _in_pdf(content: bytes, sought: Sought) -> Iterator[str]:
    try:
        book = pypdf.PdfReader(io.BytesIO(content))
        pages = [page.extract_text() for page in book.pages]
        reported = " ".join(str(value) for value in (book.metadata or {}).values())
    except (pypdf.errors.PyPdfError, ValueError, KeyError, TypeError, RecursionError) as error:
        yield f": cannot be read as PDF, so nobody can say what it holds ({error})"
        return
    yield from (f", page {n}" for n, text in enumerate(pages, start=1) if sought.found(text))
    if sought.found(reported):
        yield ", the properties of the document"


def _in_text(content: bytes, sought: Sought) -> Iterator[str]:
    for text in _readings(content):
        if sought.found_in_file(text):
            lines = [n for n, line in enumerate(text.split("\n"), start=1) if sought.found_in_file(line)]
            yield f", line {lines[0]}" if lines else ", over more than one line"
            return


def _readings(content: bytes) -> Iterator[str]:
    """A file's bytes as text in the encodings that a file may have; a picture gives nonsense, and does no harm."""
    try:
        yield content.decode("utf-8")
    except UnicodeDecodeError:
        yield content.decode("windows-1252", errors="replace")
    if content.count(b"\0") > len(content) // 5:
        yield content.decode("utf-16-le", errors="replace")
        yield content[1:].decode("utf-16-le", errors="replace")


def _in_warehouse(path: Path, sought: Sought) -> Iterator[str]:
    with closing(duckdb.connect(str(path), read_only=True, config=LOCKED_DOWN)) as connection:
        for table, column, values in text_columns(connection):
            if _differs(column, values, sought):
                yield f", table {table}, column {column}"


def _in_parquet(path: Path, sought: Sought) -> Iterator[str]:
    with closing(duckdb.connect(config=LOCKED_DOWN)) as connection:
        connection.read_parquet(glob.escape(str(path)), hive_partitioning=False).create_view("entry")
        for _, column, values in text_columns(connection):
            if _differs(column, values, sought):
                yield f", column {column}"


def _differs(column: str, values: list[str], sought: Sought) -> bool:
    if column in _IDS and not sought.bare_ids.isdisjoint(values):
        return True
    return sought.found("\n".join(values)) and any(sought.found(one) for one in values)
