"""Two data folders with the same results are equal, and one last bit is enough to tell them apart."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from latewood.pipeline.warehouse.connection import POINTER, open_new
from tests.tools.tables_equal import compare, main

SPREAD = 0.1 + 0.2


def folder(root: Path, *kilograms: float, build: str) -> Path:
    (root / "warehouse").mkdir(parents=True)
    with open_new(root / "warehouse" / "made.duckdb") as connection:
        for kg in kilograms:
            connection.execute(
                "insert into weighin_use values ('T1', 'S1', date '2032-06-01', ?, true, '', ?)", [kg, build]
            )
    (root / "warehouse" / POINTER).write_text("made.duckdb", encoding="utf-8")
    return root


@pytest.fixture
def first(tmp_path: Path) -> Path:
    return folder(tmp_path / "a", 70.0, SPREAD, build="one")


def test_another_order_and_another_build_are_the_same_results(first: Path, tmp_path: Path, capsys) -> None:
    again = folder(tmp_path / "b", SPREAD, 70.0, build="two")
    assert main([str(first), str(again)]) == 0
    assert "weighin_use: 2 rows, equal" in capsys.readouterr().out


def test_the_last_bit_of_one_number_is_listed(first: Path, tmp_path: Path, capsys) -> None:
    other = folder(tmp_path / "b", 70.0, math.nextafter(SPREAD, 1.0), build="one")
    assert main([str(first), str(other)]) == 1
    words = capsys.readouterr().out
    assert "weighin_use: DIFFERS" in words
    assert repr(SPREAD) in words


def test_a_row_that_stands_twice_differs_from_one_that_stands_once(first: Path, tmp_path: Path) -> None:
    other = folder(tmp_path / "b", 70.0, 70.0, SPREAD, build="one")
    result = compare(first, other, ["weighin_use"])[0]
    assert result.rows == (2, 3)
    assert not result.same
