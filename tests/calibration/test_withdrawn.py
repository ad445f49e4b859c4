"""What is withdrawn is not met, stands on the page, and is said where a reader of the methods finds it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.calibration.page import Part, marked, page_of, parts_in, summary
from tests.calibration.withdrawn import WITHDRAWN

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "calibration.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", WITHDRAWN)
def test_each_stands_on_the_page_as_withdrawn_and_a_document_says_what_came(text):
    lines = [line for line in PAGE.splitlines() if line.startswith(f"| {text} |")]
    assert len(lines) == 1
    assert lines[0].endswith("| withdrawn |")
    said = WITHDRAWN[text]
    assert said.words in (ROOT / said.document).read_text(encoding="utf-8")


def test_one_that_is_met_is_not_called_withdrawn_and_others_are_left():
    first = next(iter(WITHDRAWN))
    text = (
        f"| {first} | 0.960 ± 0.003 | met |\n| {first} | 0.9 ± 0.003 | **not met** |\n| b | 1 | **not met** |"
    )
    part = marked(Part(name="x", text=text))
    assert part.text == text.replace("0.9 ± 0.003 | **not met**", "0.9 ± 0.003 | withdrawn")
    assert summary([part]).startswith(
        "**1 assertions are met, 1 are not, 0 miss by less than 2 Monte-Carlo errors, 1 are withdrawn.**"
    )


def test_the_page_is_what_its_parts_make():
    assert page_of(parts_in(PAGE)) == PAGE
