"""What the server loads before it listens: the first page brings in nothing of ours any more, nor a large library."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
CODE = """
import gc, sys
import streamlit.web.cli as cli
served = []
cli.main = lambda prog_name: served.append(prog_name)
from latewood.dashboard import server
server.main()
from streamlit.testing.v1 import AppTest
before = set(sys.modules)
page = AppTest.from_file("dashboard/app.py", default_timeout=120).run()
roots = {name.partition(".")[0] for name in set(sys.modules) - before}
print(served, gc.isenabled(), gc.get_freeze_count() > 10_000, len(page.exception), page.header[0].value)
print(sorted(roots & {"latewood", "numpy", "pandas", "scipy", "statsmodels", "altair", "duckdb", "cryptography"}))
"""


def test_whoever_opens_the_first_page_waits_for_no_library(demo_root: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-c", CODE],
        cwd=ROOT, env={**os.environ, "LATEWOOD_DATA": str(demo_root)}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert run.stdout.splitlines()[-2:] == ["['streamlit'] True True 0 Monday", "[]"]
