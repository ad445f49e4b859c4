"""Every question that a screen answers is at most two clicks from Monday; docs/answers.md has seconds and widths."""

from __future__ import annotations

import pytest

from tests.tools.answers import AIM_STEPS, QUESTIONS, Question, answered


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: one.asks)
def test_an_answer_is_two_clicks_from_the_first_screen(demo, question: Question) -> None:
    assert answered(demo.tab, demo.address, question, "wide").steps <= AIM_STEPS


@pytest.mark.parametrize(
    "question",
    [one for one in QUESTIONS if any(kind == "screen" for kind, _ in one.way)],
    ids=lambda one: one.asks,
)
def test_an_answer_on_another_screen_is_two_taps_away_on_a_phone(
    machine_browser, address, question: Question
) -> None:
    with machine_browser.new_context(viewport={"width": 390, "height": 844}) as phone:
        assert answered(phone.new_page(), address, question, "phone").steps <= AIM_STEPS
