"""Rules about the code and the documents that a machine can keep."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from dataclasses import fields
from pathlib import Path

import duckdb
import pytest

from latewood.pipeline.catalogue.document import catalogue_markdown
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.results import RESULT_CLASSES
from latewood.pipeline.warehouse.connection import read_sql, sql_files
from latewood.pipeline.warehouse.dictionary import data_dictionary
from latewood.pipeline.warehouse.rules import RULES
from latewood.pipeline.warehouse.schema import schema_statements, table_of

ROOT = Path(__file__).parents[2]
SOURCES = [*ROOT.glob("pipeline/**/*.py"), *ROOT.glob("dashboard/**/*.py")]
LONGEST_FUNCTION = 40  # lines of the body, without its docstring


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_functions_stay_short(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    functions = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]
    assert [f.name for f in functions if _lines(f) > LONGEST_FUNCTION] == []


def _lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    documented = ast.get_docstring(function) is not None
    body = function.body[1:] if documented else function.body
    return function.end_lineno - body[0].lineno + 1 if body else 0


@pytest.mark.parametrize("kind", RESULT_CLASSES, ids=lambda c: c.__name__)
def test_every_result_is_a_frozen_value_and_a_table_column_for_column(kind: type) -> None:
    assert kind.__dataclass_params__.frozen
    assert hasattr(kind, "__slots__")
    with duckdb.connect() as connection:
        for text in schema_statements():
            connection.execute(text)
        columns = [d[0] for d in connection.execute(f"select * from {table_of(kind)}").description]
    assert columns == [*(f.name for f in fields(kind)), "build_id"]


def test_the_data_dictionary_is_fresh_and_says_something_of_every_table() -> None:
    text = (ROOT / "docs" / "data_dictionary.md").read_text(encoding="utf-8")
    assert text == data_dictionary(), "run: make docs"
    schema = "".join(schema_statements())
    assert set(re.findall(r"create table (\w+)", schema)) == set(
        re.findall(r"^## (\w+)$", text, re.MULTILINE)
    )


def test_the_page_of_measures_is_fresh() -> None:
    text = (ROOT / "docs" / "measures.md").read_text(encoding="utf-8")
    assert text == catalogue_markdown(load_catalogue()), "run: make docs"


def test_every_rule_that_the_sql_can_raise_is_explained() -> None:
    sql = "".join(read_sql(f"check/{name}") for name in sql_files("check"))
    raised = set(re.findall(r"'([a-z_]+)'", sql)) & set(RULES)
    own = {name.removesuffix(".sql") for name in sql_files("hold")}
    assert own == {rule.key for rule in RULES.values() if rule.priority is not None}
    assert {"swapped_pair", "height_falls"} <= own
    assert {"unit_slip", "outside_stay", "correction"} <= raised
    assert set(RULES) - raised - own <= {
        "people_row",
        "plan_start",
        "plan_second",
        "unit_slip",
        "lost_point",
        "unknown_condition",
        "same_name",
        "sentinel",
    }


@pytest.mark.parametrize("name", ["constraints.txt", "pyproject.toml", ".ci/run", "Makefile"])
def test_no_host_is_named(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert not re.search(r"https?://(?!127\.0\.0\.1)", text)


def test_every_dependency_is_pinned_exactly() -> None:
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").split()
    assert all(re.fullmatch(r"[A-Za-z0-9_.\-]+==[0-9][\w.]*", line) for line in lines)


def test_fragments_and_authority_have_one_place() -> None:
    """A fragment runs on without its page, so all are made by `parts.fragment`; actions alone ask `rights`."""
    texts = {p.relative_to(ROOT).as_posix(): p.read_text(encoding="utf-8") for p in SOURCES}
    assert [name for name, text in texts.items() if "st.fragment" in text] == ["dashboard/screens/parts.py"]
    actions = [name for name in texts if re.fullmatch(r"dashboard/actions/\w+_actions\.py", name)]
    assert len(actions) == 11
    assert [n for n in actions if ".camps_for(" in texts[n] or "build.viewer" in texts[n]] == []


def test_every_folder_of_code_is_a_package_and_is_installed() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    folders = {path.parent for path in SOURCES}
    assert [folder for folder in folders if not (folder / "__init__.py").exists()] == []
    names = {"latewood." + ".".join(folder.relative_to(ROOT).parts) for folder in folders}
    names = names - {"latewood.pipeline.latewood"} | {"latewood", "latewood.seed_data", "latewood.docs"}
    assert set(settings["packages"]) == names


def test_the_pipeline_imports_only_what_a_light_install_has_and_extras_where_they_are_used() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    module_of = {"python-calamine": "python_calamine"}
    light = {re.split(r"[>=<\[]", d)[0] for d in project["dependencies"]}
    light = {module_of.get(name, name) for name in light} | {"latewood", "click"}  # typer brings click
    outside = {}
    for path in ROOT.glob("pipeline/**/*.py"):
        beyond = _imported(path) - light - sys.stdlib_module_names
        if beyond:
            outside[str(path.relative_to(ROOT))] = sorted(beyond)
    assert outside == {
        "pipeline/pages/recruit/pdf.py": ["typst"],
        "pipeline/pages/typeset.py": ["typst"],
        "pipeline/warehouse/spark_engine.py": ["py4j", "pyspark"],
    }


def _imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {one.name.partition(".")[0] for one in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            names.add((node.module or "").partition(".")[0])
    return names
