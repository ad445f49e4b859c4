"""What starting the command line does not load."""

from __future__ import annotations

import subprocess
import sys


def test_the_command_line_starts_without_the_whole_of_statsmodels() -> None:
    requested = "import sys, latewood.pipeline.cli.main; print(*sorted(set(sys.modules)))"
    loaded = subprocess.run(
        [sys.executable, "-c", requested], check=True, capture_output=True, text=True
    ).stdout.split()
    assert "latewood.pipeline.stats.checks.refits" in loaded
    assert not {"statsmodels.api", "statsmodels.tsa"} & set(loaded)
