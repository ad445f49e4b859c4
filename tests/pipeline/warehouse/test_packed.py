"""Columns come back from their bytes as they were; Arrow, which is no part of a light install, agrees."""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
import pyarrow as pa
import pytest

from latewood.pipeline.warehouse.packed import (
    DamagedError,
    of_frame,
    of_results,
    pack,
    plain_texts,
    rows_of,
    to_frame,
    unpack,
)

FRAMES = {
    "texts": {"a": ["x", "", None, "é\n", "x"], "all the same": ["y"] * 5, "none": pd.array([None] * 5, "str")},
    "numbers": {"f": [0.1 + 0.2, math.nan, -0.0, 5e-324, 1e308], "i": [1, -1, 0, 2**62, 5],
                "s": np.array([1, 2, 3, 4, 5], np.int32)},
    "days": {"d": [date(2032, 6, 1), None, date(1899, 12, 31), pd.NaT, date(2032, 6, 1)],
             "t": pd.to_datetime(["2032-06-01 10:00", None, "2032-06-02 00:00", None, "1999-01-01 23:59"])},
    "truths": {"b": [True, False, True, True, False], "n": pd.array([True, None, False, None, True], "boolean"),
               "o": pd.Series([True, None, False, None, True], dtype=object)},
    "masked": {"i": pd.array([1, None, 3, None, 2**62], "Int64"), "f": pd.array([1.5, None, 3, None, 0], "Float64")},
    "objects": {"t": pd.Series(["x", None, "y", "", math.nan], dtype=object), "v": pd.Series([None] * 5, dtype=object),
                "m": pd.Series([1, None, 2, 3, 4], dtype=object), "w": pd.Series([1, 2, 3, 4, 5], dtype=object)},
}  # fmt: skip


def through(frame: pd.DataFrame) -> pd.DataFrame:
    return to_frame(unpack(pack(of_frame(frame))))


@pytest.mark.parametrize("rows", [5, 1, 0])
@pytest.mark.parametrize("name", FRAMES)
def test_a_frame_comes_back_as_arrow_would_give_it(name: str, rows: int) -> None:
    frame = pd.DataFrame(FRAMES[name]).head(rows)
    table = pa.Table.from_pandas(frame, preserve_index=False)
    pd.testing.assert_frame_equal(through(frame), table.to_pandas(), check_exact=True)


def test_many_texts_come_back_in_their_places() -> None:
    texts = [f"athlete {k % 70_000} é" for k in range(200_000)]
    frame = pd.DataFrame({"few": [t[:9] for t in texts], "many": texts})
    pd.testing.assert_frame_equal(through(frame), frame)
    assert len(pack(of_frame(frame))) < 200_000 * (1 + 4) + 70_000 * 40


@pytest.mark.parametrize("name", ["texts", "objects"])
def test_texts_have_the_same_bytes_however_pandas_keeps_them(name: str) -> None:
    frames = []
    for storage in ("python", "pyarrow"):
        with pd.option_context("mode.string_storage", storage):
            columns = {key: pd.array(list(one), "str") for key, one in FRAMES["texts"].items()}
            frames.append(pd.DataFrame(columns if name == "texts" else FRAMES[name]))
    assert pack(of_frame(frames[0])) == pack(of_frame(frames[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    name: str
    value: float | None
    count: int | None
    sure: bool
    on: date | None


def test_results_keep_a_number_that_is_none_apart_from_one_that_is_no_number() -> None:
    made = [
        Kept(name="a", value=None, count=None, sure=True, on=date(2032, 6, 1)),
        Kept(name="é", value=math.nan, count=2**62, sure=False, on=None),
        Kept(
            name="a",
            value=np.float64(0.1),
            count=np.int64(3),
            sure=np.bool_(True),
            on=pd.Timestamp("2032-06-01"),
        ),
    ]
    columns = of_results(Kept, made)
    back = [Kept(**row) for row in rows_of(unpack(pack(columns)))]
    assert [repr(one) for one in back] == [
        "Kept(name='a', value=None, count=None, sure=True, on=datetime.date(2032, 6, 1))",
        "Kept(name='é', value=nan, count=4611686018427387904, sure=False, on=None)",
        "Kept(name='a', value=0.1, count=3, sure=True, on=datetime.date(2032, 6, 1))",
    ]
    assert list(map(repr, rows_of(columns))) == list(map(repr, rows_of(unpack(pack(columns)))))
    assert list(rows_of(unpack(pack(of_results(Kept, []))))) == []


@pytest.mark.parametrize("other", [{"name": 3}, {"count": 1.5}, {"sure": 2}, {"value": "x"}])
def test_a_result_of_another_type_than_declared_is_refused(other: dict[str, object]) -> None:
    good = {"name": "a", "value": 1.0, "count": 1, "sure": True, "on": None}
    with pytest.raises((TypeError, ValueError)):
        of_results(Kept, [Kept(**{**good, **other})])


@pytest.mark.parametrize("values", [[["a"]], [b"a"], ["a", 1], [1 + 2j]])
def test_a_column_that_is_not_plain_is_refused(values: list[object]) -> None:
    with pytest.raises(TypeError, match=r"x: a column of .* cannot be kept"):
        of_frame(pd.DataFrame({"x": pd.Series(values)}))


def test_bytes_that_are_cut_or_longer_are_refused() -> None:
    content = pack(of_frame(pd.DataFrame(FRAMES["texts"])))
    for damaged in (b"", content[:-1], content + b"0", content[:5], b"[]\n" + content):
        with pytest.raises(DamagedError):
            unpack(damaged)


def test_a_build_in_a_thread_of_a_server_leaves_how_texts_are_kept_as_it_is() -> None:
    def storage() -> str:
        return str(pd.get_option("mode.string_storage"))

    before, seen = storage(), []

    def build() -> None:
        with plain_texts():
            seen.append(storage())

    thread = threading.Thread(target=build)
    thread.start()
    thread.join()
    assert seen == [before]
    with plain_texts():
        assert storage() == "python"
    assert storage() == before
