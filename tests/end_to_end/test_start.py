"""What a command that only reads does not wait for."""

from __future__ import annotations

import subprocess
import sys

from latewood.pipeline.ingest.build.run import build
from tests.conftest import Camp

HEAVY = ("scipy.stats", "scipy.signal", "statsmodels", "streamlit", "altair", "pyspark")
CODE = """
import sys
from latewood.pipeline.cli.main import app
app(["{command}", "--data", {root!r}], standalone_mode=False)
print("loaded:", [name for name in {heavy!r} if name in sys.modules])
"""


def test_commands_that_read_load_no_statistics(camp: Camp, rows_only) -> None:
    build(camp.root)
    for command in ("status", "held", "athletes"):
        code = CODE.format(command=command, root=str(camp.root), heavy=HEAVY)
        run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        assert run.stdout.rstrip().endswith("loaded: []"), (command, run.stdout, run.stderr)
