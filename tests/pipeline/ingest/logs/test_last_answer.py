"""Of several answers to one held row the last one counts."""

from __future__ import annotations

import pytest

from latewood.pipeline.ingest.logs.decisions import Answer, Decision, new_decision, row_decisions, stands

ROW = "a:2:x"
Given = tuple[str, str]


def decided(*answers: Given) -> list[Decision]:
    return [
        new_decision(Answer(action=action, who="Ira", why="seen"), target(argument), at=f"203{n}", position=n)
        for n, (action, argument) in enumerate(answers)
    ]


def target(argument: str) -> dict[str, dict[str, str]]:
    return {ROW: {"stage": "row", "argument": argument, "rule": "unknown_athlete"}}


REJECT, GIVE, OTHER = ("reject", ""), ("assign", "T1"), ("assign", "T2")


@pytest.mark.parametrize(
    ("made", "again", "another"),
    [
        ((REJECT, GIVE), GIVE, REJECT),
        ((GIVE, REJECT), REJECT, GIVE),
        ((GIVE, REJECT, GIVE), GIVE, REJECT),
        ((REJECT, GIVE, REJECT), REJECT, GIVE),
        ((GIVE, OTHER), OTHER, GIVE),
        ((REJECT, OTHER), OTHER, GIVE),
    ],
)
def test_only_the_last_answer_is_the_one_given_already(
    made: tuple[Given, ...], again: Given, another: Given
) -> None:
    assert stands(decided(*made), again[0], target(again[1]))
    assert not stands(decided(*made), another[0], target(another[1]))


def test_a_rejection_ends_when_the_row_is_given_to_an_athlete_and_an_acceptance_stays() -> None:
    assert row_decisions(decided(REJECT, GIVE)) == {}
    assert row_decisions(decided(REJECT, GIVE, REJECT)) == {(ROW, "row"): ("reject", "")}
    assert row_decisions(decided(("accept", ""), GIVE)) == {(ROW, "row"): ("accept", "")}
