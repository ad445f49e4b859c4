"""Each answer is two taps from Monday and needs no scrolling, on a phone; docs/answers.md has seconds and widths."""

from __future__ import annotations

from dataclasses import replace

import pytest

from latewood.pipeline.ingest.program import load_program
from tests.looks import PHONE
from tests.tools.answers import AIM_STEPS, Place, answered, groups
from tests.tools.questions import DEMO, QUESTIONS, Book, Question

ASKED = groups([one for one in QUESTIONS if one.place == DEMO])


@pytest.mark.parametrize("questions", ASKED, ids=lambda group: group[0].asks)
def test_an_answer_is_two_taps_away_and_at_first_sight_on_a_phone(
    tab_as, demo_root, address, questions: tuple[Question, ...]
) -> None:
    place = Place(address=address, book=Book(demo_root, load_program(demo_root).today()))
    seen = answered(tab_as(replace(PHONE, touch=False)), place, questions, "phone")
    assert max(one.steps for one in seen) <= AIM_STEPS
    assert {one.question.asks: one.down for one in seen if not one.at_sight} == {}
