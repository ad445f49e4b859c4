from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from latewood.dashboard.reads.rows import DecisionRow, HeldRow, ImportRow
from latewood.dashboard.views.data.steward import (
    build_decisions,
    build_desk,
    build_imports,
    holding,
    of_rule,
    offered_answers,
    rule_title,
    rules_waiting,
)
from latewood.pipeline.warehouse.rules import RULES

HELD = HeldRow(
    held_id="aaa:12:value", import_id="aaa", file_name="scale.csv", row_no=12, field="value", rule="unit_slip",
    reason="168 kg is far from the athlete's trend", athlete_text="Arlo F.", athlete_id="T1", measure="body_mass",
    measured_on=date(2032, 7, 4), raw_value="168", raw_unit="kg", proposal="value", proposed_value=76.20,
    proposed_text="168 lb", group_id="aaa:12",
)  # fmt: skip
FILE = ImportRow(
    import_id="aaa", file_name="scale.csv", kind="readings", mapping="own columns",
    received_at=datetime(2032, 7, 5, 14, 10, tzinfo=UTC), received_by="Sage", rows_in=312, rows_taken=312,
    rows_held=0, rows_recognised=0, rows_rejected=0, withdrawn=False,
)  # fmt: skip
LABELS = {"body_mass": "Body mass"}


def test_a_question_shows_raw_text_reason_and_proposal() -> None:
    question = build_desk([HELD], [FILE], LABELS, {}).questions[0]
    line = question.lines[0]
    assert (line.where, line.who, line.what) == ("scale.csv, line 12", "Arlo F.", "Body mass, 4 Jul 2032")
    assert line.raw == "168\u00a0kg"
    assert (question.proposal, question.can_fix, question.target) == ("168 lb", True, "aaa:12")


@pytest.mark.parametrize("rule", sorted(RULES))
def test_every_question_says_what_settles_it(rule: str) -> None:
    (question,) = build_desk([replace(HELD, rule=rule)], [FILE], LABELS, {}).questions
    assert question.what_to_do[:-1].casefold() == RULES[rule].mend.casefold()
    assert "{" not in question.what_to_do
    assert build_desk([replace(HELD, rule="new")], [FILE], LABELS, {}).questions[0].what_to_do == ""


def test_questions_of_one_athlete_on_several_days_are_told_apart() -> None:
    rows = [
        replace(
            HELD,
            held_id=f"a:{day}:{measure}",
            group_id=f"g{day}",
            measure=measure,
            measured_on=date(2032, 7, day),
        )
        for day in (4, 5)
        for measure in ("body_mass", "standing_height")
    ]
    abouts = [one.about for one in build_desk(rows, [FILE], LABELS, {}).questions]
    (alone,) = build_desk([replace(HELD, group_id=None)], [FILE], LABELS, {}).questions
    assert alone.about.replace("\u00a0", " ").endswith("168 kg → 168 lb")  # what came and what is proposed
    assert abouts == ["Arlo F., 4 Jul 2032, 2 rows", "Arlo F., 5 Jul 2032, 2 rows"]


def test_one_question_settles_a_group() -> None:
    rows = [
        replace(HELD, held_id=f"aaa:{n}:value", athlete_text=f"A{n}", rule="whole_file_unit")
        for n in range(41)
    ]
    desk = build_desk([*rows, replace(HELD, group_id=None)], [FILE], LABELS, {})
    assert [len(question.lines) for question in desk.questions] == [41, 1]
    assert desk.questions[0].about == "scale.csv, Body mass, 4 Jul 2032, 41 rows"
    assert desk.head.startswith("2 questions about 42 rows.")
    assert desk.questions[1].target == ""
    assert desk.questions[1].held_ids == ("aaa:12:value",)


def test_without_a_proposal_nothing_can_be_mended() -> None:
    assert not build_desk([replace(HELD, proposal="none")], [FILE], LABELS, {}).questions[0].can_fix


def test_questions_can_be_shown_by_rule() -> None:
    desk = build_desk([HELD, replace(HELD, rule="same_name", group_id="b")], [FILE], LABELS, {})
    assert list(rules_waiting(desk)) == ["", "same_name", "unit_slip"]
    assert [question.rule for question in of_rule(desk, "same_name")] == ["same_name"]
    assert of_rule(desk, "same_name")[0].needs_athlete


def test_questions_are_found_by_athlete_file_measure_or_value() -> None:
    other = replace(HELD, held_id="other", file_name="gates.csv", athlete_id=None, athlete_text="Fen",
                    group_id=None, raw_value="4.1")  # fmt: skip
    questions = build_desk([HELD, other], [FILE], LABELS, {}).questions
    assert len(questions) == 2
    assert holding(questions, "") == questions
    assert [one.held_ids for one in holding(questions, " FEN ")] == [("other",)]
    assert [one.held_ids for one in holding(questions, "gates")] == [("other",)]
    assert [one.held_ids for one in holding(questions, "4.1")] == [("other",)]
    assert holding(questions, "nowhere") == ()


def test_nothing_waiting_names_the_last_import() -> None:
    assert build_desk([], [FILE], {}, {}).head == (
        "Nothing waiting. Last import 5 Jul 2032 14:10: scale.csv, 312 rows, 312 taken."
    )
    assert build_desk([], [], {}, {}).head == "Nothing waiting. No file has been imported yet."


def test_an_unknown_rule_still_has_words() -> None:
    assert rule_title("brand_new") == "Brand new"


def test_an_import_says_what_became_of_its_rows() -> None:
    line = build_imports([replace(FILE, rows_taken=305, rows_held=4, rows_rejected=3, withdrawn=True)])[0]
    assert line.rows == "305 of 312 taken, 4 held, 3 rejected"
    assert line.state == "withdrawn"


def test_a_corrected_value_is_said_in_plain_words() -> None:
    taken = DecisionRow(
        decision_id="d", decided_at=datetime(2032, 7, 5, 15, 0, tzinfo=UTC), decided_by="Sage", action="mend",
        target="aaa:12:value", argument="1148.4", why="a slip", applied=True,
    )  # fmt: skip
    assert build_decisions([taken])[0]["Decision"] == "correct to 1148.4"


def test_a_decision_is_shown_with_who_and_why() -> None:
    taken = DecisionRow(
        decision_id="d", decided_at=datetime(2032, 7, 5, 15, 0, tzinfo=UTC), decided_by="Sage", action="assign",
        target="aaa:12:value", argument="T1", why="asked them", applied=False,
    )  # fmt: skip
    assert build_decisions([taken]) == [
        {
            "When and who": "5 Jul 2032 15:00, Sage",
            "Decision": "assign T1",
            "About": "aaa:12:value (no longer there)",
            "Why": "asked them",
        }
    ]


def test_the_answers_offered_fit_the_question() -> None:
    one = build_desk([HELD], [FILE], LABELS, {}).questions[0]
    assert offered_answers(one)[0] == "mend"
    pair = replace(one, rule="swapped_pair", can_fix=False)
    assert offered_answers(pair) == ["exchange", "accept", "reject"]
    single = replace(one, rule="impossible_jump", can_fix=False, held_ids=("aaa:12:Mass",))
    assert offered_answers(single) == ["accept", "reject", "assign", "correct"]
