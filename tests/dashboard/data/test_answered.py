"""Which answer a question of held rows shows as its own."""

from __future__ import annotations

from latewood.dashboard.actions.steward_actions import Log
from latewood.pipeline.ingest.logs.decisions import Decision

ROWS = ("f:2:value", "f:3:value")


def decision(action: str, **told: str) -> Decision:
    targets = {ROWS[0]: {"stage": "row", **told}}
    return Decision(decision_id="d", decided_at="", decided_by="Sage", action=action, targets=targets, why="")


def test_a_name_given_before_is_no_answer_to_what_holds_the_row_now() -> None:
    named = Log(made=[decision("assign", argument="T1", rule="unknown_athlete")])
    assert named.last(ROWS, "future_date") is None
    assert named.last(ROWS, "unknown_athlete") is named.made[0]


def test_an_answer_that_names_no_rule_is_that_of_the_question() -> None:
    accepted = Log(made=[decision("accept")])
    assert accepted.last(ROWS, "future_date") is accepted.made[0]
    assert accepted.last(("g:2:value",), "future_date") is None
