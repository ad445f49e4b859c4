"""Files of JSON lines that are only ever added to: each line whole on the disk, or not there."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from latewood.pipeline import durable
from latewood.pipeline.errors import LandingError

T = TypeVar("T")


def append_line(path: Path, record: Mapping[str, Any]) -> None:
    """Add one record and wait until it is on the disk; a torn last line is cut off first."""
    durable.append_lines(path, (json.dumps(record, ensure_ascii=False, sort_keys=True) + "\n").encode())


def rewrite(path: Path, change: Callable[[dict[str, Any]], Mapping[str, Any] | None]) -> int:
    """Change records of a file in one step, and return how many; None empties a line, so that the others keep theirs.

    The caller holds the file's lock.
    """
    result = whole_bytes(path)
    kept = result.decode().split("\n")[:-1]
    changed = 0
    for number, record in read_lines(result, path.name):
        new = change(record)
        if new == record:
            continue
        kept[number - 1] = "" if new is None else json.dumps(new, ensure_ascii=False, sort_keys=True)
        changed += 1
    if changed:
        durable.write_atomically(path, "".join(line + "\n" for line in kept).encode())
    return changed


def whole_bytes(path: Path) -> bytes:
    """The file up to the end of its last whole line: a line without its end was never confirmed."""
    if not path.exists():
        return b""
    full, end, _ = path.read_bytes().rpartition(b"\n")
    return full + end


def read_lines(content: bytes, name: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Each record with the number of its line. Raises LandingError naming a line that cannot be read."""
    for number, line in enumerate(content.splitlines(), start=1):
        if not line.strip():
            continue
        try:
            yield number, dict(json.loads(line))
        except (ValueError, TypeError, RecursionError) as error:
            raise _unreadable(name, number, error) from error


def read_typed(content: bytes, name: str, kind: type[T], see: Callable[[T], object]) -> list[tuple[int, T]]:
    """Each line as one of `kind`, with its number. Raises LandingError where a field is missing or of another kind.

    `see` looks at what the kinds do not tell, such as days, and raises ValueError. Fields of later versions are left
    out.
    """
    hints, result = get_type_hints(kind), []
    for number, record in read_lines(content, name):
        known = {key: value for key, value in record.items() if key in hints}
        try:
            for key, value in known.items():
                if not _is_of(value, hints[key]):
                    raise TypeError(f"{key} is of another kind than was written")
            made = kind(**known)
            see(made)
        except (ValueError, TypeError) as error:
            raise _unreadable(name, number, error) from error
        result.append((number, made))
    return result


def _is_of(value: object, hint: Any) -> bool:  # noqa: ANN401  what a field is declared as
    if get_origin(hint) is not Mapping:
        return type(value) is hint
    each = get_args(hint)[1]
    return isinstance(value, dict) and (each is Any or all(type(one) is each for one in value.values()))


def _unreadable(name: str, number: int, error: Exception) -> LandingError:
    return LandingError(f"{name}, line {number}: cannot be read ({error}); restore the file from a backup")


def forget_texts(path: Path, athlete_id: str, names: Callable[[str], bool]) -> int:
    """Empty the lines about an athlete, and texts of other lines that name them; return 1 where the file changed.

    The caller holds the file's lock.
    """

    def change(record: dict[str, Any]) -> dict[str, Any] | None:
        if record["athlete_id"] == athlete_id:
            return None
        return {**record, "text": "erased"} if names(str(record["text"])) else record

    return int(bool(rewrite(path, change)))
