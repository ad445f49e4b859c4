"""Two people who answer the same question at once: the second is told, and nothing of theirs is written."""

from __future__ import annotations

import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from latewood.dashboard import signin
from latewood.dashboard.actions import steward_actions
from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.logs import decisions, planlog
from latewood.pipeline.warehouse.connection import open_published
from tests.audited import logged_actions
from tests.opening import open_page
from tests.two_camps import viewer_of

# What one person's process does: it has seen the log as it was, waits for the other, and answers.
ANSWER = """
import sys, time
from pathlib import Path
from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.build.settle import decide
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.warehouse.connection import open_published
root, held, who, seen = Path(sys.argv[1]), sys.argv[2], sys.argv[3], int(sys.argv[4])
(root / f"ready-{who}").touch()
while len(list(root.glob("ready-*"))) < 2:
    time.sleep(0.01)
try:
    answer = Answer(action="reject", who=who, why="not ours", seen=seen)
    decide(root, [held], answer, build_after=False)
except DecisionError as error:
    print(error)
    sys.exit(3)
"""


@pytest.fixture
def own(two_camps: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    root = tmp_path / "data"
    shutil.copytree(two_camps, root)
    monkeypatch.setenv("LATEWOOD_DATA", str(root))
    return root


@pytest.fixture
def held(own: Path) -> list[str]:
    with closing(open_published(own)) as connection:
        result = connection.execute(
            "select coalesce(group_id, held_id) from held_row where rule = 'unknown_athlete' order by 1"
        ).fetchall()
    assert len(result) == 2
    return [row[0] for row in result]


def answers(root: Path, held_ids: list[str]) -> list[tuple[int, str]]:
    """Exit code and words of two processes that answer at the same moment."""

    def one(who: str, held_id: str) -> tuple[int, str]:
        command = [sys.executable, "-c", ANSWER, str(root), held_id, who, "0"]
        run = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
        assert not run.stderr, run.stderr
        return run.returncode, run.stdout

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(one, ("Sage", "Reed"), held_ids))


def test_of_two_processes_that_answer_one_question_the_second_is_told(own, held) -> None:
    shown = answers(own, [held[0], held[0]])
    assert sorted(code for code, _ in shown) == [0, 3]
    first, second = ("Sage", "Reed") if shown[0][0] == 0 else ("Reed", "Sage")
    words = next(text for code, text in shown if code == 3)
    assert f"{first} has decided about this meanwhile (reject" in words
    assert "nothing of yours was written" in words
    assert [made.decided_by for made in decisions.read(own / "decisions.jsonl")] == [first]
    assert [line.who for line in logged_actions(own)] == [first]
    assert second not in (own / "decisions.jsonl").read_text()


def test_two_answers_to_two_questions_do_not_disturb_each_other(own, held) -> None:
    assert [code for code, _ in answers(own, held)] == [0, 0]
    assert {made.decided_by for made in decisions.read(own / "decisions.jsonl")} == {"Sage", "Reed"}
    assert len(logged_actions(own)) == 2


def test_of_two_withdrawals_at_once_one_is_written(own) -> None:
    steward = viewer_of("data_steward")
    with closing(open_published(own)) as connection:
        (import_id,) = connection.execute("select import_id from import where kind = 'plans'").fetchone()
    steward_actions.take_out(steward, import_id, "", "wrong camp")
    with pytest.raises(DecisionError, match="was withdrawn before"):
        steward_actions.take_out(steward, import_id, "", "wrong camp")
    assert len(decisions.read(own / "decisions.jsonl")) == 1


def page_of(monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.setattr(signin, "viewer", lambda: viewer_of("data_steward"))
    monkeypatch.setattr(signin, "_note", lambda *told: None)
    return open_page("data")


def reject(page: AppTest, held_id: str) -> AppTest:
    key = f"{held_id}_unknown_athlete"
    page.radio(key=f"data_action_{key}").set_value("reject")
    page.text_input(key=f"data_why_{key}").set_value("not ours")
    return write(page, held_id)


def write(page: AppTest, held_id: str) -> AppTest:
    form = next(one for one in page.button if one.form_id == f"data_answer_unknown_athlete_{held_id}")
    return form.click().run()


def test_on_screen_the_second_is_told_sees_the_first_answer_and_may_answer_anew(
    own, held, monkeypatch
) -> None:
    page = page_of(monkeypatch)  # drawn before the other answers
    other = viewer_of("data_steward")
    visitor = steward_actions.SignedReason(
        who="", why="they are a visitor", seen=steward_actions.log(other).count
    )
    steward_actions.answer(other, [held[0]], "reject", None, visitor)
    page = reject(page, held[0])
    assert "has decided about this meanwhile (reject" in page.error[0].value
    assert len(decisions.read(own / "decisions.jsonl")) == 1
    page = page.run()
    assert any("they are a visitor" in one.value.replace("\\", "") for one in page.info)
    page = reject(page, held[0])
    assert "nothing changes" in page.error[0].value
    page.radio(key=f"data_action_{held[0]}_unknown_athlete").set_value("assign")
    page.selectbox(key=f"data_athlete_{held[0]}_unknown_athlete").set_value("T1")
    page = write(page, held[0])
    assert not page.error
    assert [made.action for made in decisions.read(own / "decisions.jsonl")] == ["reject", "assign"]


def test_on_screen_an_answer_to_another_question_is_taken(own, held, monkeypatch) -> None:
    page = page_of(monkeypatch)
    other = viewer_of("data_steward")
    visitor = steward_actions.SignedReason(
        who="", why="they are a visitor", seen=steward_actions.log(other).count
    )
    steward_actions.answer(other, [held[1]], "reject", None, visitor)
    page = reject(page, held[0])
    assert not page.error
    assert len(decisions.read(own / "decisions.jsonl")) == 2
    assert {made.decided_by for made in decisions.read(own / "decisions.jsonl")} == {
        "Sage Fenwick <sage@example.org>"
    }


CHANGE = """
import sys, time
from dataclasses import replace
from datetime import date
from pathlib import Path
from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.plans.plan_forms import PlanDraft, save_plan
root, who = Path(sys.argv[1]), sys.argv[2]
draft = PlanDraft(plan_id="P2", athlete_id="T2", start_on=date(2032, 10, 20), start_kg=72.8,
                  target_on=date(2032, 11, 20), target_kg=73.2, purpose="strength",
                  guardian="Ilse Fenwood", clinician="Bo Marl", reason="later date", seen_version=1)
(root / f"ready-{who}").touch()
while len(list(root.glob("ready-*"))) < 2:
    time.sleep(0.01)
try:
    save_plan(root, draft, who)
except DecisionError as error:
    print(error)
    sys.exit(3)
"""


def test_of_two_processes_that_change_one_plan_the_second_is_told(own) -> None:
    def one(who: str) -> tuple[int, str]:
        command = [sys.executable, "-c", CHANGE, str(own), who]
        run = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
        assert not run.stderr, run.stderr
        return run.returncode, run.stdout

    with ThreadPoolExecutor(2) as pool:
        shown = list(pool.map(one, ("Sage", "Reed")))
    assert sorted(code for code, _ in shown) == [0, 3]
    first = "Sage" if shown[0][0] == 0 else "Reed"
    words = next(text for code, text in shown if code == 3)
    assert f"plan P2 was changed meanwhile: version 2 by {first}" in words
    assert [event.by for event in planlog.read_log(own)] == [first]
