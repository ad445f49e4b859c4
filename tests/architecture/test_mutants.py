"""Every mutant changes a text that stands once in the file it names, and names tests that are there."""

from __future__ import annotations

import pytest

from tests.mutations.catalogue import MUTANTS
from tests.mutations.run import ROOT, Mutant


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.wrong)
def test_a_mutant_finds_what_it_changes_and_its_tests(mutant: Mutant) -> None:
    code = (ROOT / "pipeline" / mutant.file).read_text(encoding="utf-8")
    assert code.count(mutant.old) == 1
    assert mutant.new != mutant.old
    for test in mutant.tests.split():
        file, _, name = test.partition("::")
        wanted = f"def {name.partition('[')[0]}(" if name else "def test_"
        assert wanted in (ROOT / "tests" / file).read_text(encoding="utf-8")
