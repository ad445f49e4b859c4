"""Every question that a screen answers is at most two clicks from Monday; docs/answers.md has seconds and widths."""

from __future__ import annotations

import pytest

from tests.tools.answers import AIM_STEPS, QUESTIONS, Question, answered


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: one.asks)
def test_an_answer_is_two_clicks_from_the_first_screen(demo, question: Question) -> None:
    assert answered(demo.tab, demo.address, question, "wide").steps <= AIM_STEPS
