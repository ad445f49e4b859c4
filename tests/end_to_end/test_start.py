"""What a command does not wait for: modules that only other commands need."""

from __future__ import annotations

import subprocess
import sys

import pytest

from latewood.pipeline.cli.commands import COMMANDS
from latewood.pipeline.cli.lazy import help_of, loaded
from latewood.pipeline.ingest.build.run import build
from tests.conftest import Camp

ARRAYS = ("numpy", "pandas", "scipy", "statsmodels", "pyarrow")
FILES = ("openpyxl", "python_calamine", "c3d", "pypdf", "cryptography", "typst")
SCREENS = ("streamlit", "altair", "pyspark")
BUILDING = (
    "latewood.pipeline.ingest.build.run",
    "latewood.pipeline.ingest.actions",
    "latewood.pipeline.pages",
)
HEAVY = (*ARRAYS, *FILES, *SCREENS, *BUILDING)
CODE = """
import sys
from latewood.pipeline.cli.main import app
app({words!r}, standalone_mode=False)
print("loaded:", [name for name in {heavy!r} if name in sys.modules])
"""


def loads(words: list[str], heavy: tuple[str, ...]) -> str:
    code = CODE.format(words=words, heavy=heavy)
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return run.stdout.rstrip().rpartition("loaded: ")[2]


def test_commands_that_read_load_no_frames_and_nothing_that_builds(camp: Camp, rows_only) -> None:
    build(camp.root)
    for command in ("status", "held", "athletes", "measures", "audit"):
        assert loads([command, "--data", str(camp.root)], HEAVY) == "[]", command


def test_help_and_a_folder_of_its_own_open_no_warehouse(tmp_path) -> None:
    assert loads(["--help"], (*HEAVY, "duckdb", "latewood.pipeline.cli.reading")) == "[]"
    assert loads(["init", "--data", str(tmp_path / "camp")], HEAVY) == "[]"


@pytest.mark.parametrize("name", list(COMMANDS))
def test_the_list_of_commands_says_what_the_command_itself_says(name: str) -> None:
    command = loaded(name)
    assert command.name == name
    assert help_of(name) == command.help != ""
