"""What works with an installation that has no extras: Arrow, which Streamlit brings, is hidden from a process."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.tools.tables_equal import compare, every_table

HIDDEN = "raise ModuleNotFoundError(\"No module named 'pyarrow'\")\n"

COMMAND = """
import sys
from latewood.pipeline.cli.start import main
try:
    main()
finally:
    assert "pyarrow" not in sys.modules
"""


@pytest.fixture(scope="module")
def built_light(two_camps: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("light")
    root = folder / "data"
    shutil.copytree(two_camps, root, ignore=shutil.ignore_patterns("warehouse"))
    run(root, "build")
    return root


def run(root: Path, *words: str) -> str:
    hidden = root.parent / "hidden"
    hidden.mkdir(exist_ok=True)
    (hidden / "pyarrow.py").write_text(HIDDEN)
    path = os.pathsep.join([str(hidden), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, "-c", COMMAND, *words, "--data", str(root)],
        env={**os.environ, "PYTHONPATH": path}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr + done.stdout
    return done.stdout


def test_a_build_without_arrow_gives_the_same_tables(two_camps: Path, built_light: Path) -> None:
    tables = [table for table in every_table(two_camps, built_light) if table != "build_log"]
    compared = compare(two_camps, built_light, tables)
    assert len(compared) > 40
    assert [one.table for one in compared if not one.same] == []
    assert sum(one.rows[0] for one in compared) > 1000


def test_what_was_kept_with_arrow_is_read_without_it_and_the_other_way(
    two_camps: Path, built_light: Path
) -> None:
    names = [
        {path.name for path in (root / "warehouse" / "memo").iterdir()} for root in (two_camps, built_light)
    ]
    assert names[0] == names[1]
    assert len(names[0]) > 10


def test_status_check_and_sheets_but_pdf_need_no_extra(built_light: Path) -> None:
    run(built_light, "status")
    run(built_light, "check")
    out = built_light.parent / "out"
    run(built_light, "review", "--camp", "K", "--form", "csv,xlsx", "--out", str(out))
    assert {path.suffix for path in out.iterdir()} >= {".csv", ".xlsx"}
