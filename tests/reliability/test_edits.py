"""Edits by hand in every file that can be read: `check` names file and line; and actions killed between their writes.

What cannot be seen: the same tail cut off a log, the content log and the audit log with both heads made to fit, or all
of them made anew; an edit from before the content log began; an edit of what is only told and never read back (the
counts in an .outcome, the notes of builds); a line of the log's own that is added as its very last, which looks like a
action whose process was killed, and is a note.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.care.check import AREAS, check_folder
from latewood.pipeline.ingest.actions import decide
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import Consent
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.logs import (
    audit,
    case_words,
    content,
    decisions,
    entered,
    focus,
    planlog,
    start_draws,
)
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.warehouse.connection import open_published
from tests.reliability.kill import FIRST, prepared
from tests.reliability.test_killed_steps import _kill, _reached
from tests.typed import type_in

Edit = tuple[str, bytes]
DAY = "entries/2032-08-20.jsonl"
LOGS = ("decisions.jsonl", "plan_log.jsonl", "focus_log.jsonl", "case_log.jsonl", "start_draws.jsonl", DAY)
CHAINS = ("landing/audit.jsonl", content.LOG)


def _weigh(root: Path, trial: int) -> None:
    type_in(
        root,
        by="Fen",
        athlete_id="T2",
        measure="body_mass",
        measured_on=FIRST,
        value="70.4",
        unit="kg",
        trial=trial,
    )


def _aim(root: Path, text: str) -> None:
    focus.write(
        root,
        focus.NewFocus(athlete_id="T2", text=text, measure="exit_speed", review_on=date(2032, 8, 25)),
        "Fen",
    )


def _say(root: Path, text: str) -> None:
    case_words.write(
        root, case_words.NewWords(athlete_id="T2", stay_id="T2@K", part="next", text=text), "Fen"
    )


def _plan(root: Path, note: str) -> None:
    planlog.record_decision(
        root,
        planlog.NewPlanDecision(
            plan_id="P1",
            athlete_id="T2",
            decision=planlog.KEEP,
            review_on=date(2032, 8, 25),
            note=note,
            seen={},
        ),
        "Fen",
    )


def _decide(root: Path, why: str) -> None:
    with closing(open_published(root)) as connection:
        (held,) = connection.execute("select held_id from held_row").fetchone()
    made = decisions.read(root / "decisions.jsonl")  # the same answer again would change nothing
    assigned = decisions.assignments(made).get(held, ("", ""))[0]
    decide(
        root,
        [held],
        Answer(action="assign", who="Ira", why=why, argument="T2" if assigned == "T1" else "T1"),
        build_after=False,
    )


def _agree(root: Path, reference: str) -> None:
    given = Consent(
        athlete_id="T1",
        given_by="guardian",
        given_on=date(2032, 8, 1),
        expires_on=date(2033, 1, 1),
        withdrawn_on=None,
        fields=(),
        measures=("body_mass",),
        photo=False,
        projection=False,
        name_shown="",
        reference=reference,
        import_id="",
        row_no=0,
    )
    consent_book.record(root, given, "Ira")


def _draw(root: Path, camp: str) -> None:
    days = [date(2032, 8, 23), date(2032, 8, 30)]
    start_draws.write(root, start_draws.Draw(camp_id=camp, seed=7, starts=days, athletes=["T1", "T2"]), "Ira")


@pytest.fixture(scope="module")
def written_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small camp with three lines in each log."""
    root = prepared(tmp_path_factory.mktemp("written"))
    for number in (1, 2, 3):
        _weigh(root, 8 + number)
        _aim(root, f"Stride the same every time, {number}.")
        _say(root, f"Sleep before test days, {number}.")
        _plan(root, f"as planned {number}")
        _decide(root, f"nobody of that name {number}")
        _draw(root, f"K{number}")
    audit.name_subjects(root, ["T1", "T2"])
    return root


@pytest.fixture
def written(written_root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy to be edited; what is made from the logs (warehouse, consents, pages) is looked at elsewhere."""
    for area in ("warehouse", "consents", "register", "settings"):
        monkeypatch.delitem(AREAS, area)
    return Path(shutil.copytree(written_root, tmp_path / "data"))


def _collected(root: Path, *, wrong: bool = True) -> str:
    return "\n".join(f"{f.area}: {f.what}" for f in check_folder(root) if f.wrong or not wrong)


def _other(value: object) -> object:
    """A value of the same kind that is not this one."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, dict):
        return {**value, "more": "x"} if "targets" not in value else value
    if isinstance(value, list):
        return value[::-1]
    text = str(value)
    return text[:-1] + ("1" if text.endswith("2") else "2") if text[-1:].isdigit() else f"{text}x"


def _fields_edited(lines: list[bytes]) -> Iterator[tuple[int, Edit]]:
    for number, line in enumerate(lines, start=1):
        record = json.loads(line)
        for key, value in record.items():
            new = json.dumps({**record, key: _other(value)}, ensure_ascii=False, sort_keys=True).encode()
            yield (
                number,
                (f"{key} of line {number}", b"\n".join([*lines[: number - 1], new, *lines[number:], b""])),
            )


def _lines_edited(lines: list[bytes]) -> Iterator[tuple[int, Edit]]:
    def made(kept: list[bytes]) -> bytes:
        return b"".join(line + b"\n" for line in kept)

    for at in range(len(lines)):
        yield at + 1, (f"line {at + 1} deleted", made(lines[:at] + lines[at + 1 :]))
        yield at + 1, (f"line {at + 1} emptied", made([*lines[:at], b"", *lines[at + 1 :]]))
        yield at + 2, (f"line {at + 1} twice", made(lines[: at + 1] + lines[at:]))
        yield len(lines) + 1, (f"line {at + 1} at the end again", made([*lines, lines[at]]))
    for at in range(len(lines) - 1):
        yield (
            at + 1,
            (
                f"lines {at + 1} and {at + 2} swapped",
                made([*lines[:at], lines[at + 1], lines[at], *lines[at + 2 :]]),
            ),
        )
    yield 1, ("all lines gone", b"")
    yield len(lines), ("half the last line", made(lines)[: -len(lines[-1]) // 2])


def _unseen(
    root: Path, name: str, edits: Iterator[tuple[int, Edit]], words: Callable[[int], str]
) -> tuple[int, list[str]]:
    path, tried, missed = root / name, 0, []
    full = path.read_bytes()
    for number, (what, changed) in edits:
        if changed == full:
            continue
        path.write_bytes(changed)
        tried += 1
        if words(number) not in _collected(root):
            missed.append(f"{name}: {what}")
    path.write_bytes(full)
    return tried, missed


@pytest.mark.parametrize("name", LOGS)
def test_every_edit_of_a_log_is_named_with_file_and_line(written: Path, name: str) -> None:
    assert _collected(written, wrong=False) == ""
    lines = (written / name).read_bytes().split(b"\n")[:-1]
    assert len(lines) == 3
    edits = [*_fields_edited(lines), *_lines_edited(lines)]
    tried, missed = _unseen(written, name, iter(edits), lambda n: f"content: {name}, line {n}")
    assert tried >= 25
    assert missed == []
    (written / name).unlink()
    assert f"content: {name}: is missing" in _collected(written)


@pytest.mark.parametrize("name", CHAINS)
def test_every_edit_of_a_chain_is_seen(written: Path, name: str) -> None:
    lines = (written / name).read_bytes().split(b"\n")[:-1]
    some = {0, 1, len(lines) // 2, len(lines) - 1}
    fields = [(n, edit) for n, edit in _fields_edited(lines) if n - 1 in some]
    full = [(n, edit) for n, edit in _lines_edited(lines) if n - 1 in some]
    area = "audit log: " if name == CHAINS[0] else "content: landing/content"
    tried, missed = _unseen(written, name, iter([*fields, *full]), lambda _: area)
    assert tried >= 25
    assert missed == []


@pytest.mark.parametrize("head", ["landing/audit.head", content.HEAD])
@pytest.mark.parametrize("text", ["", "x", "² 0", "1 " + "0" * 64, "9" * 5000, "\udcff"])
def test_a_head_that_was_changed_is_seen_and_no_traceback(written: Path, head: str, text: str) -> None:
    (written / head).write_bytes(text.encode("utf-8", "surrogateescape"))
    assert ("audit.head" if "audit" in head else "content.head") in _collected(written)


def test_a_manifest_without_its_seal_or_with_a_new_one_is_seen(written: Path) -> None:
    path = next(p for p in (written / "landing").glob("*/*.json") if "readings.csv" in p.read_text())
    name, record = path.relative_to(written).as_posix(), json.loads(path.read_bytes())
    full, missed = path.read_bytes(), []
    for key in record:
        bare = {k: _other(v) if k == key else v for k, v in record.items() if k != "seal"}
        path.write_text(json.dumps(bare, indent=1, sort_keys=True) + "\n", encoding="utf-8")
        missed += [] if f"{name}: the manifest was changed" in _collected(written) else [key]
    path.unlink()
    assert f"{name}: the manifest of an import is missing" in _collected(written)
    path.write_bytes(full)
    assert missed == []
    other = path.with_name("0123456789ab.json")
    other.write_bytes(full)
    assert "0123456789ab.json: the manifest was not written by this tool" in _collected(written)


def test_swapped_tokens_and_ids_are_seen(written: Path) -> None:
    path = written / content.SUBJECTS
    known = json.loads(path.read_bytes())
    a, b = sorted(known)[:2]
    for changed in ({**known, a: known[b], b: known[a]}, {a: known[a]}, {}):
        path.write_text(json.dumps(changed, indent=1, sort_keys=True) + "\n", encoding="utf-8")
        assert "tokens of athletes" in _collected(written)
    path.unlink()
    assert "tokens of athletes" in _collected(written)


def test_first_tokens_that_crash_after_crash_kept_from_being_written_were_not_changed(written: Path) -> None:
    (written / content.SUBJECTS).unlink()
    with content.held(written):
        content.begin(written, begun=True)
    for text in (b'{"T1": "first"}', b'{"T1": "second"}', b'{"T1": "third"}'):
        with content.held(written):
            content.mark_subjects(written, text)
        assert "tokens of athletes" not in _collected(written)
        assert "a crash came before it was written" in _collected(written, wrong=False)
    (written / content.SUBJECTS).write_bytes(text)
    assert "tokens" not in _collected(written, wrong=False)
    (written / content.SUBJECTS).write_bytes(b'{"T1": "fourth"}')
    assert "tokens of athletes" in _collected(written)


def test_a_clock_changed_by_hand_is_told_until_a_command_notes_it(written: Path) -> None:
    path = written / "program.toml"
    path.write_text(path.read_text().replace("2032-08-20", "2032-08-19"), encoding="utf-8")
    assert "program.toml: was changed" in _collected(written, wrong=False)
    assert "clock 2032-08-20 before, clock 2032-08-19 now" in _collected(written, wrong=False)
    _aim(written, "Quiet front side.")
    assert _collected(written, wrong=False) == ""
    assert "clock 2032-08-19" in (written / content.LOG).read_text()


def test_a_content_log_that_is_gone_is_not_begun_again_in_silence(written: Path) -> None:
    (written / content.LOG).unlink()
    (written / content.HEAD).unlink()
    assert "landing/content.jsonl: is missing" in _collected(written)
    with pytest.raises(audit.AuditError, match=r"content\.jsonl and .* do not belong together"):
        _aim(written, "Quiet front side.")
    assert len(focus.read_log(written)) == 3


def test_a_folder_of_before_is_checked_from_the_next_command_on(written: Path) -> None:
    for name in (content.LOG, content.HEAD, "landing/audit.jsonl", "landing/audit.head"):
        (written / name).unlink()
    assert "content is checked from the next command on" in _collected(written, wrong=False)
    audit.ready(written)
    assert "content: " not in _collected(written, wrong=False)


def test_the_same_tail_cut_off_everywhere_is_the_limit(written: Path) -> None:
    """Not seen, and said so: whoever makes log, content log, audit log and both heads fit needs this tool's code."""
    before = {p: p.read_bytes() for p in (written / n for n in (DAY, content.LOG, content.HEAD))}
    _weigh(written, 20)
    assert _collected(written) == ""
    for path, full in before.items():
        path.write_bytes(full)
    assert _collected(written, wrong=False) == ""


def _kinds(record: dict[str, object]) -> Iterator[bytes]:
    for key in record:
        for other in (None, 7.5, [], {"a": [1]}, "no day"):
            if type(other) is not type(record[key]) or other == "no day":
                yield json.dumps({**record, key: other}).encode()
        yield json.dumps({k: v for k, v in record.items() if k != key}).encode()
    yield from (b"[]", b"7", b"{}", b"\xff\xfe", b'{"a": ' + b"[" * 5000, b"null")


@pytest.mark.parametrize("name", [*LOGS[:5], DAY, *CHAINS])
def test_a_damaged_line_is_told_in_one_line_and_never_a_traceback(written: Path, name: str) -> None:
    path = written / name
    first, *rest = path.read_bytes().split(b"\n")
    for damaged in _kinds(json.loads(first)):
        path.write_bytes(b"\n".join([damaged, *rest]))
        words = _collected(written)
        assert "Traceback" not in words
        assert "line 1" in words, damaged


ACTIONS: dict[str, tuple[Callable[[Path, str], None], Callable[[Path], int]]] = {
    "weigh-in": (
        lambda root, text: _weigh(root, 30 + len(text)),
        lambda root: len(entered.current_entries(root, date(2032, 8, 20))),
    ),
    "focus": (_aim, lambda root: len(focus.read_log(root))),
    "words on a case": (_say, lambda root: len(case_words.read_log(root))),
    "plan event": (_plan, lambda root: len(planlog.read_log(root))),
    "decision": (_decide, lambda root: (root / "decisions.jsonl").read_bytes().count(b"\n")),
    "consent": (_agree, lambda root: len(landing.manifests(root / "landing"))),
}


class _First:
    """An action that can be sent to a process of its own."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __call__(self, root: Path) -> None:
        ACTIONS[self.name][0](root, "killed")


@pytest.mark.parametrize("name", ACTIONS)
def test_a_small_deed_killed_between_its_writes_is_a_note_and_the_next_goes_on(
    written_root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.delitem(AREAS, "warehouse")
    do, count = ACTIONS[name]
    trial = Path(shutil.copytree(written_root, tmp_path / "trial"))
    observed = _reached(_First(name), trial)
    assert set(STEPS) & set(observed)
    for at, step in ((at, step) for at, step in enumerate(observed) if step in STEPS):
        root = Path(shutil.copytree(written_root, tmp_path / f"at{at}"))
        before = count(root)
        _kill(_First(name), root, at)
        assert _collected(root) == "", step
        assert step != STEPS[0] or "content: " in _collected(root, wrong=False)
        do(root, "the next")
        assert _collected(root, wrong=False) == "", step
        assert count(root) == before + 2, step


STEPS = ("line written", "line told", "manifest landed")
