"""Runs the kills and the fuzzed imports in full and writes docs/reliability.md; see --help."""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
import tempfile
import time
from dataclasses import asdict
from pathlib import Path
from typing import Any

import duckdb

from tests.reliability.fuzz import fuzz
from tests.reliability.killed import kill_runs
from tests.reliability.many_typed import SEED, type_many
from tests.reliability.page import page

DOCS = Path(__file__).parents[2] / "docs"
RESULTS = DOCS / "reliability.json"


def machine() -> dict[str, Any]:
    """What ran it, without names or places."""
    return {
        "cores": os.cpu_count(), "arch": platform.machine(), "system": platform.system(),
        "python": platform.python_version(), "duckdb": duckdb.__version__,
    }  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.reliability", description=__doc__)
    parser.add_argument(
        "--runs", type=int, default=200, help="processes to kill; 0 keeps the figures there are"
    )
    parser.add_argument(
        "--files", type=int, default=1000, help="damaged files; 0 keeps the figures there are"
    )
    parser.add_argument(
        "--weighins",
        type=int,
        default=300,
        help="weigh-ins typed while builds run; 0 keeps the figures there are",
    )
    parser.add_argument("--seed", type=int, default=20320602)
    given = parser.parse_args()
    result = json.loads(RESULTS.read_text(encoding="utf-8")) if RESULTS.exists() else {}
    with tempfile.TemporaryDirectory(prefix="latewood-reliability-") as scratch:
        if given.runs:
            result["kills"] = _kills(Path(scratch) / "kills", given.runs, given.seed)
        if given.files:
            result["files"] = _files(Path(scratch) / "files", given.files, given.seed)
        if given.weighins:
            result["typed"] = _typed(Path(scratch) / "demo", given.weighins)
    RESULTS.write_text(json.dumps(result, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    (DOCS / "reliability.md").write_text(page(result), encoding="utf-8")
    if any(part["wrong"] for part in result.values()):
        raise SystemExit("something is wrong; see docs/reliability.md")


def _kills(folder: Path, runs: int, seed: int) -> dict[str, Any]:
    started = time.monotonic()
    result = kill_runs(folder, runs, seed, _tell)
    killed = [[action, how, n] for (action, how), n in sorted(result.killed.items())]
    return {
        "machine": machine(), "seed": seed, "seconds": round(time.monotonic() - started), "runs": result.runs,
        "killed": killed, "ended": dict(result.ended), "torn": len(result.torn_lines),
        "mended": result.mended_lines, "acknowledged": result.acknowledged, "wrong": result.wrong,
    }  # fmt: skip


def _files(folder: Path, files: int, seed: int) -> dict[str, Any]:
    started = time.monotonic()
    result = asdict(fuzz(folder, files, seed, _tell))
    wrong = [*result.pop("crashes"), *result.pop("losses")]
    seconds = round(time.monotonic() - started)
    return {"machine": machine(), "seed": seed, "seconds": seconds, **result, "wrong": wrong}


def _typed(folder: Path, weighins: int) -> dict[str, Any]:
    started = time.monotonic()
    result = asdict(type_many(folder, weighins))
    return {"machine": machine(), "seed": SEED, "seconds": round(time.monotonic() - started), **result}


def _tell(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
