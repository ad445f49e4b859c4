"""Tries every mutant and writes docs/mutations.md; exit code 1 where one survives or cannot be tried."""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from tests.mutations.catalogue import MUTANTS
from tests.mutations.run import ROOT, Mutant, Outcome, copy_project, run_tests, try_mutant

PAGE = ROOT / "docs" / "mutations.md"
HEAD = """# Estimators broken on purpose

Each line below changes one place of an estimator in a copy of the project and runs the tests named for it: one of them
must fail. Made by `make mutants`, which runs `python -m tests.mutations`; the command fails where a mutant survives,
where the text to change is no longer there, and where the unbroken copy does not pass.

**{killed} of {all} mutants were seen by a test.**

| question | what was made wrong | in | seen by | s |
| --- | --- | --- | --- | --- |
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Try the mutants; write the page when all were tried."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutations", description=__doc__)
    parser.add_argument("--only", default="", help="mutants whose question, file or words hold this")
    wanted = parser.parse_args(arguments).only
    chosen = [m for m in MUTANTS if wanted in f"{m.question} {m.file} {m.wrong}"]
    with tempfile.TemporaryDirectory() as folder:
        copy = copy_project(Path(folder) / "project")
        code, output = run_tests(copy, " ".join(sorted({t for m in chosen for t in m.tests.split()})))
        if code != 0:
            sys.stderr.write(f"{output}\nthe unbroken copy does not pass: nothing was tried\n")
            return 1
        outcomes = [_sentence(try_mutant(copy, mutant)) for mutant in chosen]
    if not wanted:
        PAGE.write_text(page_of(outcomes), encoding="utf-8")
    alive = [o for o in outcomes if not o.killed]
    sys.stdout.write(f"{len(outcomes) - len(alive)} of {len(outcomes)} mutants seen by a test\n")
    return 1 if alive or not outcomes else 0


def _sentence(outcome: Outcome) -> Outcome:
    words = outcome.killed_by or outcome.trouble or "SURVIVED"
    sys.stdout.write(f"{outcome.seconds:5.1f} s  {outcome.mutant.wrong}: {words}\n")
    sys.stdout.flush()
    return outcome


def page_of(outcomes: Sequence[Outcome]) -> str:
    """The page of all outcomes as Markdown."""
    rows = [_row(outcome, outcome.mutant) for outcome in outcomes]
    return HEAD.format(killed=sum(o.killed for o in outcomes), all=len(outcomes)) + "".join(rows)


def _row(outcome: Outcome, mutant: Mutant) -> str:
    observed = f"`{outcome.killed_by}`" if outcome.killed else f"**{outcome.trouble or 'survived'}**"
    cells = (mutant.question, mutant.wrong, f"`{mutant.file}`", observed, f"{outcome.seconds:.0f}")
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |\n"


if __name__ == "__main__":
    sys.exit(main())
