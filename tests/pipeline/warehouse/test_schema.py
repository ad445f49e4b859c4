"""Tables of results are made from their classes: names, types, what may be empty, and the words of the dictionary."""

from __future__ import annotations

import ast
import inspect
import re
from dataclasses import dataclass, fields
from datetime import date
from pathlib import Path

import duckdb
import pytest

from latewood.pipeline.stats.results import RESULT_CLASSES
from latewood.pipeline.warehouse.dictionary import data_dictionary
from latewood.pipeline.warehouse.schema import create_table, schema_files, schema_statements, table_of

ROOMS = Path(__file__).parents[3] / "pipeline" / "stats"


@dataclass(frozen=True, slots=True, kw_only=True)
class FinalSprint:
    """A result that nobody has."""

    athlete_id: str
    seconds: float  # of the fastest
    low: float | None
    n_sprints: int
    run_on: date | None
    clear: bool


def test_a_class_becomes_a_table_with_its_types_and_what_may_be_empty():
    with duckdb.connect() as connection:
        connection.execute(create_table(FinalSprint))
        columns = connection.execute(
            "select column_name, data_type, is_nullable from duckdb_columns() where table_name = 'final_sprint'"
        ).fetchall()
    assert columns == [
        ("athlete_id", "VARCHAR", False),
        ("seconds", "DOUBLE", False),
        ("low", "DOUBLE", True),
        ("n_sprints", "BIGINT", False),
        ("run_on", "DATE", True),
        ("clear", "BOOLEAN", False),
        ("build_id", "VARCHAR", False),
    ]


def test_a_field_that_is_not_plain_is_refused_with_what_is_accepted():
    @dataclass(frozen=True)
    class Many:
        values: tuple[float, ...]

    with pytest.raises(TypeError, match=r"Many\.values: .* use str, float, int, bool, date"):
        create_table(Many)


def test_every_class_of_a_rooms_results_is_a_table_once_and_no_file_of_the_schema_repeats_one():
    declared = [
        name
        for path in ROOMS.glob("*/results.py")
        for name in re.findall(r"^class (\w+)", path.read_text(encoding="utf-8"), re.MULTILINE)
    ]
    assert sorted(declared) == sorted(kind.__name__ for kind in RESULT_CLASSES)
    tables = [table_of(kind) for kind in RESULT_CLASSES]
    assert len(tables) == len(set(tables))
    written = {name for _, text in schema_files() for name in re.findall(r"create table (\w+)", text)}
    assert written & set(tables) == set()
    with duckdb.connect() as connection:
        for text in schema_statements():
            connection.execute(text)


@pytest.mark.parametrize("kind", RESULT_CLASSES, ids=lambda kind: kind.__name__)
def test_every_comment_beside_a_field_is_in_the_dictionary(kind: type):
    source = inspect.getsource(kind)
    node = ast.parse(source).body[0]
    lines = source.splitlines()
    commented = {
        one.target.id: lines[one.lineno - 1].split("  # ", 1)[1]
        for one in node.body
        if isinstance(one, ast.AnnAssign) and "  # " in lines[one.lineno - 1]
    }
    section = data_dictionary().split(f"## {table_of(kind)}\n")[1].split("\n## ")[0]
    rows = dict(re.findall(r"^\| (\w+) \| \w+ \| (?:yes|no) \| (.*) \|$", section, re.MULTILINE))
    assert set(rows) - {"column"} == {one.name for one in fields(kind)} | {"build_id"}
    assert {name: rows[name].replace("\\|", "|") for name in commented} == commented
