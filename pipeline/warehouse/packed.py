"""Frames and results as columns of plain values, and such columns as bytes: the same values have the same bytes.

A column keeps its values, which of them are empty, and for texts the distinct ones in the order in which they come.
What lies under an empty cell is zero. The bytes are a line of JSON that names the columns, and their arrays after it.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, fields
from datetime import date
from types import NoneType
from typing import Any, Final, get_args, get_type_hints

import numpy as np
import pandas as pd

TEXT, DATE, NOTHING, OBJECT_BOOL, PLAIN = "text", "date", "nothing", "object_bool", "plain"
_EPOCH: Final = date(1970, 1, 1).toordinal()
_MASKED: Final = {
    "boolean": pd.arrays.BooleanArray,
    "Int64": pd.arrays.IntegerArray,
    "Float64": pd.arrays.FloatingArray,
}
_RESULT_TYPES: Final = (str, float, int, bool, date)


class DamagedError(ValueError):
    """The bytes are not what `pack` makes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedColumn:
    """One column: `kind` is one of the words above or a dtype with a mask; texts are indexed by `values`."""

    name: str
    kind: str
    values: np.ndarray
    empty: np.ndarray | None = None
    texts: tuple[str, ...] = ()


Columns = tuple[PackedColumn, ...]


def plain_texts() -> AbstractContextManager[None]:
    """Within it texts of frames are kept as without pyarrow: fits take rows by the thousand, where Arrow is slow.

    An option of the whole process, so it is left as it is where a server builds in one thread while others make frames.
    """
    if threading.current_thread() is not threading.main_thread():
        return nullcontext()
    return pd.option_context("mode.string_storage", "python")


def of_frame(frame: pd.DataFrame) -> Columns:
    """The columns of a frame without its index. Raises TypeError for a column whose values are not plain."""
    return tuple(_of_series(str(name), frame[name]) for name in frame.columns)


def _of_series(name: str, series: pd.Series) -> PackedColumn:
    kind = str(series.dtype)
    if kind == "category":
        return _of_categories(name, series)
    if kind == "str":
        return _text(name, *_distinct(series))
    if kind in _MASKED:
        empty = series.isna().to_numpy(dtype=bool)
        values = series.array._data.copy()  # the one way to the values without the mask
        values[empty] = 0
        return PackedColumn(name=name, kind=kind, values=values, empty=_where_any(empty))
    if series.dtype == object:
        return _of_objects(name, series)
    values = series.to_numpy()
    if values.dtype.kind not in "biufM":
        raise TypeError(f"{name}: a column of {series.dtype} cannot be kept")
    if values.dtype.kind == "f":
        return _floats(name, values)
    return PackedColumn(name=name, kind=PLAIN, values=values)


def _of_categories(name: str, series: pd.Series) -> PackedColumn:
    codes, used = pd.factorize(series.cat.codes.where(series.notna(), None))
    texts = series.cat.categories[used.astype(int)]
    return _text(name, codes, list(texts))


def _of_objects(name: str, series: pd.Series) -> PackedColumn:
    empty = series.isna().to_numpy(dtype=bool)
    if empty.all():
        return PackedColumn(name=name, kind=NOTHING, values=np.zeros(len(series), np.int8))
    what = pd.api.types.infer_dtype(series[~empty])
    if what == "string":
        return _text(name, *_distinct(series))
    if what == "date":
        return _dates(name, series.where(~empty, None).tolist())
    if what == "boolean":
        values = series.where(~empty, False).to_numpy(dtype=bool)
        return PackedColumn(
            name=name, kind=OBJECT_BOOL if empty.any() else PLAIN, values=values, empty=_where_any(empty)
        )
    if what in {"integer", "floating", "mixed-integer-float"}:
        return _of_series(name, pd.to_numeric(series))
    raise TypeError(f"{name}: a column of {what} values cannot be kept")


def _distinct(series: pd.Series) -> tuple[np.ndarray, list[str]]:
    codes, texts = pd.factorize(series)
    return codes, list(texts)


def _text(name: str, codes: np.ndarray, texts: Sequence[str]) -> PackedColumn:
    empty = codes < 0
    smallest = np.min_scalar_type(max(len(texts) - 1, 0))
    values = np.where(empty, 0, codes).astype(smallest)
    return PackedColumn(name=name, kind=TEXT, values=values, empty=_where_any(empty), texts=tuple(texts))


def _dates(name: str, values: Sequence[date | None]) -> PackedColumn:
    empty = np.array([one is None for one in values], dtype=bool)
    days = np.array([0 if one is None else one.toordinal() - _EPOCH for one in values], dtype=np.int32)
    return PackedColumn(name=name, kind=DATE, values=days, empty=_where_any(empty))


def _floats(name: str, values: np.ndarray) -> PackedColumn:
    empty = np.isnan(values)
    if not empty.any():
        return PackedColumn(name=name, kind=PLAIN, values=values)
    return PackedColumn(name=name, kind=PLAIN, values=np.where(empty, 0, values), empty=empty)


def _where_any(empty: np.ndarray) -> np.ndarray | None:
    return empty if empty.any() else None


def to_frame(columns: Columns) -> pd.DataFrame:
    """A frame of the columns; texts are of dtype str, an empty float is NaN, an empty date None."""
    return pd.DataFrame({one.name: _as_array(one) for one in columns})


def to_categories(columns: Columns) -> pd.DataFrame:
    """The same frame with its texts as categories."""
    return pd.DataFrame({
        one.name: categories(_codes(one), one.texts) if one.kind == TEXT else _as_array(one)
        for one in columns
    })


def categories(codes: np.ndarray, texts: Sequence[str] | np.ndarray | pd.Index) -> pd.Categorical:
    """Texts by their places among distinct ones; a place of -1 is no text."""
    distinct: Any = pd.CategoricalDtype(pd.Index(pd.array(list(texts), dtype="str")))
    result: pd.Categorical = pd.Categorical.from_codes(codes, dtype=distinct)
    return result


def _codes(column: PackedColumn) -> np.ndarray:
    """Which text each row of a column of texts has; -1 where it is empty."""
    values = column.values.astype(np.int32)
    return values if column.empty is None else np.where(column.empty, -1, values)


def _as_array(column: PackedColumn) -> np.ndarray | pd.api.extensions.ExtensionArray:
    values, empty = column.values, column.empty
    if column.kind == TEXT:
        return pd.array(list(column.texts), dtype="str").take(_codes(column), allow_fill=True)
    if column.kind in _MASKED:
        mask = np.zeros(len(values), dtype=bool) if empty is None else empty.copy()
        masked: pd.api.extensions.ExtensionArray = _MASKED[column.kind](values.copy(), mask)
        return masked
    if column.kind == PLAIN:
        return values.copy() if empty is None else np.where(empty, np.nan, values)
    objects = np.empty(len(values), dtype=object)
    objects[:] = _as_list(column)
    return objects


def _as_list(column: PackedColumn) -> list[Any]:
    """The values as Python's own, None where empty."""
    if column.kind == NOTHING:
        return [None] * len(column.values)
    values: list[Any] = column.values.tolist()
    if column.kind == TEXT:
        values = [column.texts[code] for code in values] if column.texts else values
    elif column.kind == DATE:
        days = {day: date.fromordinal(day + _EPOCH) for day in set(values)}
        values = [days[day] for day in values]
    if column.empty is not None:
        for place in np.flatnonzero(column.empty).tolist():
            values[place] = None
    return values


def result_fields(kind: type) -> dict[str, type]:
    """The fields of a class of results with their types; TypeError for a field that is not plain."""
    hints = get_type_hints(kind)
    result: dict[str, type] = {}
    for one in fields(kind):
        plain = [t for t in get_args(hints[one.name]) or (hints[one.name],) if t is not NoneType]
        if len(plain) != 1 or plain[0] not in _RESULT_TYPES:
            raise TypeError(f"{kind.__name__}.{one.name}: {hints[one.name]} cannot be kept in a memo")
        result[one.name] = plain[0]
    return result


def of_results(kind: type, made: Sequence[object]) -> Columns:
    """The columns of results of one class, by the types that it declares. Raises TypeError for another value."""
    makers: dict[type, Callable[[str, list[Any]], PackedColumn]] = {str: _result_texts, date: _dates}
    return tuple(
        makers.get(plain, _result_numbers(plain))(name, [getattr(one, name) for one in made])
        for name, plain in result_fields(kind).items()
    )


def _result_texts(name: str, values: list[Any]) -> PackedColumn:
    known: dict[str, int] = {}
    if not all(isinstance(one, str | NoneType) for one in values):
        raise TypeError(f"{name}: holds a value that is no text")
    codes = [-1 if one is None else known.setdefault(str(one), len(known)) for one in values]
    return _text(name, np.array(codes, dtype=np.int64), list(known))


def _result_numbers(plain: type) -> Callable[[str, list[Any]], PackedColumn]:
    def made(name: str, values: list[Any]) -> PackedColumn:
        empty = np.array([one is None for one in values], dtype=bool)
        kept = [plain(0 if one is None else one) for one in values]
        if plain is not float and any(
            k != v for k, v, gone in zip(kept, values, empty, strict=True) if not gone
        ):
            raise TypeError(f"{name}: holds a value that is no {plain.__name__}")
        return PackedColumn(
            name=name, kind=PLAIN, values=np.array(kept, dtype=plain), empty=_where_any(empty)
        )

    return made


def rows_of(columns: Columns) -> Iterator[dict[str, Any]]:
    """The rows as values of Python's own types, None where empty."""
    names = [one.name for one in columns]
    for row in zip(*map(_as_list, columns), strict=True):
        yield dict(zip(names, row, strict=True))


def pack(columns: Columns) -> bytes:
    """The bytes of columns."""
    described, parts = [], []
    for one in columns:
        blob = "".join(one.texts).encode()
        lengths = np.fromiter(map(len, one.texts), dtype=np.int64, count=len(one.texts))
        described.append([
            one.name, one.kind, one.values.dtype.str, one.empty is not None, len(one.texts), len(blob),
        ])  # fmt: skip
        parts += [np.ascontiguousarray(one.values).tobytes(), lengths.tobytes(), blob]
        if one.empty is not None:
            parts.append(np.packbits(one.empty).tobytes())
    rows = len(columns[0].values) if columns else 0
    return b"".join([json.dumps([rows, described]).encode(), b"\n", *parts])


def unpack(content: bytes) -> Columns:
    """The columns of bytes that `pack` made. Raises DamagedError for others."""
    try:
        header = content[: content.index(b"\n") + 1]
        rows, described = json.loads(header)
        arrays = _Arrays(content=content, at=len(header))
        columns = tuple(_unpacked(arrays, rows, described_one) for described_one in described)
    except (ValueError, TypeError, KeyError) as error:
        raise DamagedError(f"cannot be read ({error})") from error
    if arrays.at != len(content):
        raise DamagedError(f"holds {len(content)} bytes where {arrays.at} were written")
    return columns


@dataclass(slots=True, kw_only=True)
class _Arrays:
    """Arrays that lie one after another in bytes."""

    content: bytes
    at: int

    def next(self, dtype: str, count: int) -> np.ndarray:
        result = np.frombuffer(self.content, dtype=dtype, count=count, offset=self.at)
        self.at += result.nbytes
        return result


def _unpacked(arrays: _Arrays, rows: int, described: list[Any]) -> PackedColumn:
    name, kind, dtype, has_empty, count, size = described
    values = arrays.next(dtype, rows)
    ends = np.cumsum(arrays.next("<i8", count)).tolist()
    blob = arrays.next("u1", size).tobytes().decode()
    texts = tuple(blob[start:end] for start, end in zip([0, *ends], ends, strict=False))
    empty = np.unpackbits(arrays.next("u1", -(-rows // 8)), count=rows).astype(bool) if has_empty else None
    return PackedColumn(name=name, kind=kind, values=values, empty=empty, texts=texts)
