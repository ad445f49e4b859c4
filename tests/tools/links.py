"""A folder of links in which tools find the packages by their installed names: `python -m tests.tools.links FOLDER`.

The folders pipeline/ and dashboard/ are installed as latewood.pipeline and latewood.dashboard. An editable install
tells Python so; mypy and import-linter look for a folder latewood/, and a copy of the project is found through one.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
LINKS = {
    "__init__.py": "pipeline/latewood/__init__.py",
    "__main__.py": "pipeline/latewood/__main__.py",
    "pipeline": "pipeline",
    "dashboard": "dashboard",
}


def link_package(folder: Path, root: Path = ROOT) -> Path:
    """The folder, in which latewood/ now stands for the code under `root`; it goes first on the path."""
    package = folder / "latewood"
    package.mkdir(parents=True, exist_ok=True)
    for name, at in LINKS.items():
        (package / name).unlink(missing_ok=True)
        (package / name).symlink_to((root / at).resolve())
    return folder


if __name__ == "__main__":
    link_package(Path(sys.argv[1]))
