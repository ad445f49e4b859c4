"""Where `latewood` starts: what needs no data is answered before the statistics are loaded."""

from __future__ import annotations

import sys
from importlib.metadata import version


def version_line() -> str:
    """The installed version in one line."""
    return f"latewood {version('latewood')}"


def main() -> None:
    """Run the command line."""
    if sys.argv[1:] == ["--version"]:
        sys.stdout.write(f"{version_line()}\n")
        return
    from latewood.pipeline.cli.main import main as run

    run()
