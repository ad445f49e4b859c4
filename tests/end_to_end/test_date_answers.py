"""One answer about the day settles the day, and nothing else, in every row of its file."""

from __future__ import annotations

import pytest

from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.build.settle import decide
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.warehouse.connection import published_path
from tests.conftest import LONG, Camp

pytestmark = pytest.mark.usefixtures("rows_only")

# Only one reading of each day lies in the camp (1 June to 15 August).
MIXED = LONG + "".join((
    "T1,06/05/2032,body_mass,70,kg,1\n",
    "T2,06/05/2032,body_mass,about 80,kg,1\n",
    "T3,06/05/2032,body_mass,,kg,1\n",
    "T1,06/05/2032,body_mass,11,stone,1\n",
    "T2,06/05/2032,standing_height,777,cm,1\n",
    "T2,08/02/2032,body_mass,80,kg,1\n",
))  # fmt: skip
LEFT = [(3, "unreadable_value"), (4, "no_value"), (5, "unknown_unit"), (6, "out_of_range")]
OPEN = "select row_no, rule from held_row where state = 'open' order by row_no"


def dates(camp: Camp) -> str:
    ((group,),) = camp.rows("select distinct group_id from held_row where rule = 'date_ambiguous'")
    return str(group)


def test_an_answer_about_the_day_leaves_only_what_else_is_wrong(camp: Camp) -> None:
    camp.take("mixed.csv", MIXED)
    assert camp.rows(OPEN) == [(n, "date_ambiguous") for n in range(2, 8)]
    decide(camp.root, [dates(camp)], Answer(action="mend", who="Ira", why="the list is American"))
    assert camp.rows(OPEN) == LEFT
    assert camp.rows("select measured_on::varchar, value from reading order by 1") == [
        ("2032-06-05", 70.0),
        ("2032-08-02", 80.0),
    ]


def test_a_second_answer_about_the_value_keeps_the_day(camp: Camp) -> None:
    camp.take("mixed.csv", MIXED)
    decide(camp.root, [dates(camp)], Answer(action="mend", who="Ira", why="the list is American"))
    held = dict(camp.rows("select rule, held_id from held_row where state = 'open'"))
    decide(
        camp.root,
        [held["unreadable_value"]],
        Answer(action="mend", who="Ira", why="asked the coach", value="80.5"),
    )
    decide(camp.root, [held["out_of_range"]], Answer(action="reject", who="Ira", why="nobody is that tall"))
    assert camp.rows(OPEN) == [LEFT[1], LEFT[2]]
    assert camp.rows("select value from reading where athlete_id = 'T2' order by measured_on") == [
        (80.5,),
        (80.0,),
    ]


def test_the_same_answer_again_is_refused_and_builds_nothing(camp: Camp) -> None:
    camp.take("mixed.csv", MIXED)
    group = dates(camp)
    answered = [str(one) for (one,) in camp.rows("select held_id from held_row")]
    decide(camp.root, [group], Answer(action="mend", who="Ira", why="the list is American"))
    before = published_path(camp.root), (camp.root / "decisions.jsonl").read_bytes()
    with pytest.raises(DecisionError, match="no held row or group of that id"):
        decide(camp.root, [group], Answer(action="mend", who="Ira", why="the list is American"))
    for action in ("mend", "accept"):
        with pytest.raises(DecisionError):
            decide(camp.root, answered, Answer(action=action, who="Ira", why="the list is American"))
    assert (published_path(camp.root), (camp.root / "decisions.jsonl").read_bytes()) == before


@pytest.mark.parametrize("action", ["reject", "accept"])
def test_any_answer_given_twice_is_refused(camp: Camp, action: str) -> None:
    camp.take("a.csv", LONG + "T1,2032-03-05,body_mass,70,kg,1\n")
    held = [str(camp.rows("select held_id from held_row")[0][0])]
    decide(camp.root, held, Answer(action=action, who="Ira", why="asked the coach"))
    before = (camp.root / "decisions.jsonl").read_bytes()
    with pytest.raises(DecisionError, match="nothing changes"):
        decide(camp.root, held, Answer(action=action, who="Sage", why="asked again"))
    assert (camp.root / "decisions.jsonl").read_bytes() == before


def test_a_day_that_fits_the_camp_both_ways_is_not_taken_as_it_stands(camp: Camp) -> None:
    camp.take("a.csv", LONG + "T1,06/07/2032,body_mass,70,kg,1\nT1,06/05/2032,body_mass,70,kg,1\n")
    both, one = (str(g) for (g,) in camp.rows("select group_id from held_row order by row_no"))
    for action in ("accept", "mend"):
        with pytest.raises(DecisionError, match=r"cannot be taken as it is|no proposed value"):
            decide(camp.root, [both], Answer(action=action, who="Ira", why="looks right"))
    decide(camp.root, [one], Answer(action="mend", who="Ira", why="the list is American"))
    assert camp.rows("select measured_on::varchar from reading") == [("2032-06-05",)]


def test_days_of_one_file_are_no_evidence_for_another(camp: Camp) -> None:
    camp.take("a.csv", LONG + "T1,25/06/2032,body_mass,70,kg,1\n")
    camp.take("b.csv", LONG + "T2,06/07/2032,body_mass,80,kg,1\n")
    assert camp.rows("select raw_value, proposal, proposed_text from held_row order by 1") == [
        ("70", "date", "2032-06-25"),
        ("80", "none", None),
    ]
