"""The audit log: whatever is done to its lines afterwards is told, and an erased athlete leaves no name."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from latewood.pipeline import durable
from latewood.pipeline.errors import AuditError
from latewood.pipeline.ingest.build.settle import withdraw
from latewood.pipeline.ingest.logs import audit
from tests.audited import logged_actions
from tests.conftest import LONG, Camp


@pytest.fixture
def logged(tmp_path: Path) -> Path:
    for number in range(5):
        audit.append(tmp_path, "decision", "Ira", {"decision": f"d{number}", "rows": number})
    return tmp_path


def _lines(root: Path) -> list[str]:
    return (root / "landing" / "audit.jsonl").read_text(encoding="utf-8").splitlines()


def _rewrite(root: Path, change: Callable[[list[str]], list[str]]) -> audit.AuditState:
    text = "".join(f"{line}\n" for line in change(_lines(root)))
    (root / "landing" / "audit.jsonl").write_text(text, encoding="utf-8")
    return audit.check(root)


def test_a_log_left_alone_is_whole(logged: Path) -> None:
    state = audit.check(logged)
    assert state.whole
    assert state.n == 5
    assert state.head == audit.lines(logged)[-1].hash
    assert audit.check(logged / "empty").whole


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda x: [*x[:2], *x[3:]], "line 3: does not follow"),
        (lambda x: x[1:], "line 1: does not follow"),
        (lambda x: [x[0], x[2], x[1], *x[3:]], "line 2: does not follow"),
        (lambda x: [x[0].replace("Ira", "Ida"), *x[1:]], "line 1: was edited"),
        (lambda x: [x[0].replace('"rows": 0', '"rows": 9'), *x[1:]], "line 1: was edited"),
        (lambda x: [*x[:2], x[1], *x[2:]], "line 3: does not follow"),
        (lambda x: x[:-1], "the last lines were cut off"),
        (lambda x: x[:1], "the last lines were cut off"),
        (lambda _: [], "the last lines were cut off"),
        (lambda x: [*x[:4], "{"], "line 5: cannot be read"),
    ],
)
def test_a_changed_log_is_told(logged: Path, change: Callable[[list[str]], list[str]], words: str) -> None:
    state = _rewrite(logged, change)
    assert any(words in problem for problem in state.problems), state.problems


def test_an_edited_line_with_a_new_hash_of_its_own_breaks_the_next(logged: Path) -> None:
    def forge(texts: list[str]) -> list[str]:
        line = audit.AuditLine(**json.loads(texts[1]))
        sealed = audit._sealed(audit.AuditLine(**{**json.loads(texts[1]), "who": "Ida"}))
        assert sealed.hash != line.hash
        body = {f: getattr(sealed, f) for f in sealed.__dataclass_fields__}
        return [texts[0], json.dumps(body, sort_keys=True), *texts[2:]]

    assert _rewrite(logged, forge).problems[0].startswith("line 3: does not follow")


def test_nothing_is_added_to_a_log_that_was_cut(logged: Path) -> None:
    _rewrite(logged, lambda x: x[:-2])
    with pytest.raises(AuditError, match=r"does not end where audit\.head says"):
        audit.append(logged, "decision", "Ira", {})


def test_power_lost_while_writing_is_no_alarm(logged: Path) -> None:
    head = logged / "landing" / "audit.head"
    before = head.read_text(encoding="utf-8")
    audit.append(logged, "decision", "Ira", {})
    head.write_text(before, encoding="utf-8")
    with (logged / "landing" / "audit.jsonl").open("a", encoding="utf-8") as stream:
        stream.write('{"torn')
    state = audit.check(logged)
    assert state.whole
    assert state.notes[0].startswith("after line 6 stand 6 bytes of a line that was never finished")
    assert audit.append(logged, "decision", "Ira", {}).number == 8
    assert audit.check(logged).whole
    assert not audit.check(logged).notes
    corrected = audit.lines(logged)[-2]
    assert (corrected.number, corrected.event, corrected.details["bytes"]) == (7, "log mended", 6)


def test_a_second_crash_between_line_and_head_is_no_alarm_either(
    logged: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    head = logged / "landing" / "audit.head"
    kept = head.read_text(encoding="utf-8")
    audit.append(logged, "decision", "Ira", {})
    head.write_text(kept, encoding="utf-8")
    full, written = durable.write_atomically, []

    def crash_after_the_line(path: Path, content: bytes) -> None:
        written.append(content)
        if len(written) > 1:
            raise RuntimeError("killed here")
        full(path, content)

    monkeypatch.setattr(durable, "write_atomically", crash_after_the_line)
    with pytest.raises(RuntimeError, match="killed here"):
        audit.append(logged, "decision", "Ira", {})
    monkeypatch.undo()
    assert audit.append(logged, "decision", "Ira", {}).number == 8
    assert audit.check(logged).whole


def test_a_crash_before_the_first_head_is_no_alarm(tmp_path: Path) -> None:
    audit.append(tmp_path, "decision", "Ira", {})
    (tmp_path / "landing" / "audit.head").unlink()
    assert audit.check(tmp_path).whole
    assert audit.append(tmp_path, "decision", "Ira", {}).number == 2
    assert audit.check(tmp_path).whole


def test_a_missing_head_is_told(logged: Path) -> None:
    (logged / "landing" / "audit.head").unlink()
    assert audit.check(logged).problems == (
        "audit.head: is missing; whether lines were cut off is not known",
    )


def test_only_known_events_are_written(tmp_path: Path) -> None:
    with pytest.raises(AuditError, match="event 'gossip' is not one of"):
        audit.append(tmp_path, "gossip", "Ira", {})


def test_an_athlete_is_a_token_that_can_be_forgotten(tmp_path: Path) -> None:
    token = audit.subject(tmp_path, "T1")
    assert audit.subject(tmp_path, "T1") == token
    assert audit.subject(tmp_path, "T2") != token
    assert audit.forget_subject(tmp_path, "T1") == token
    assert audit.subjects(tmp_path) == {"T2": audit.subject(tmp_path, "T2")}
    assert audit.forget_subject(tmp_path, "T1") is None


def test_line_ends_within_a_text_stay_within_the_line(tmp_path: Path) -> None:
    audit.append(tmp_path, "sign-in", "a\u2028b\x85c\rd\n", {"address": "\u2029\n"})
    audit.append(tmp_path, "sign-in", "Ira", {})
    assert audit.check(tmp_path).whole
    assert audit.check(tmp_path).n == 2


def test_a_stewards_decision_stands_in_the_log(camp: Camp) -> None:
    first = camp.take("a.csv", LONG + "T1,2032-06-05,body_mass,70,kg,1\n")
    assert logged_actions(camp.root) == ()
    withdraw(camp.root, first.import_id, "Ira", "wrong day", build_after=False)
    (line,) = logged_actions(camp.root)
    assert (line.event, line.who, line.details["action"], line.details["rows"]) == (
        "decision",
        "Ira",
        "withdraw",
        1,
    )
