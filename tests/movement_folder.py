"""A data folder with the demo's trace files of some athletes and nothing else: small enough to be built in a test."""

from __future__ import annotations

import shutil
from pathlib import Path

from latewood.pipeline.cli.demo import make_demo
from tests.conftest import SOURCE

VANAMARSH, MARLWICK, REEDWHISTLE, SNOWFEN = "SL-048", "SL-055", "SL-164", "SL-004"
PEOPLE = ("roster.csv", "camps.csv", "stays.csv")


def movement_folder(where: Path, *athletes: str) -> Path:
    """Build the folder under `where` and return it."""
    source, root = where / "source", where / "data"
    (source / "files").mkdir(parents=True)
    shutil.copy(SOURCE / "program.toml", source)
    shutil.copytree(SOURCE / "mappings", source / "mappings")
    traces = [p for who in athletes for p in sorted((SOURCE / "files").glob(f"traces_*_{who}_*.csv"))]
    for path in (*(SOURCE / "files" / name for name in PEOPLE), *traces):
        shutil.copy(path, source / "files")
    make_demo(root, source)
    return root
