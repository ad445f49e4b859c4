"""What starting a build does not load."""

from __future__ import annotations

import subprocess
import sys


def test_a_build_starts_without_the_whole_of_statsmodels() -> None:
    requested = "import sys, latewood.pipeline.ingest.build.run; print(*sorted(set(sys.modules)))"
    loaded = subprocess.run(
        [sys.executable, "-c", requested], check=True, capture_output=True, text=True
    ).stdout.split()
    assert "latewood.pipeline.stats.checks.refits" in loaded
    assert not {"statsmodels.api", "statsmodels.tsa"} & set(loaded)
