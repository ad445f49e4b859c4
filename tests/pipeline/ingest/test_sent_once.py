"""What a browser sends twice is saved once, and a note that somebody cannot be measured is no reading."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from latewood.dashboard.views.weighin.line import InLine, sent_entries, tally_text
from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.logs.entered import (
    TypedEntry,
    absences,
    all_imports,
    current_entries,
    enter_once,
    forget,
    note_absent,
    take_back,
)
from tests.conftest import Camp

TODAY = date(2032, 8, 20)
QUESTION = "first weigh-in here. Is 73.4 kg right?"


def entry(sent_id: str, **more: object) -> TypedEntry:
    given = {
        "entry_id": "", "at": "", "by": "Sage", "athlete_id": "T1", "measure": "body_mass", "value": "73.4",
        "unit": "kg", "measured_on": TODAY.isoformat(), "conditions": {"state": "fasted"}, "confirmed": QUESTION,
    }  # fmt: skip
    return TypedEntry(**{**given, **more}, sent_id=sent_id)  # type: ignore[arg-type]


def lines(root: Path) -> int:
    return len((root / "entries" / f"{TODAY}.jsonl").read_text(encoding="utf-8").splitlines())


def test_a_second_sending_saves_nothing_also_after_it_was_taken_back(camp: Camp) -> None:
    first = enter_once(camp.root, entry("a1"))
    assert enter_once(camp.root, entry("a1")) == first
    assert lines(camp.root) == 1
    take_back(camp.root, first, "Fen")
    assert enter_once(camp.root, entry("a1")) == first
    assert current_entries(camp.root, TODAY) == ()
    assert lines(camp.root) == 2


def test_a_note_of_absence_is_kept_with_its_day_and_is_no_value(camp: Camp) -> None:
    before = all_imports(camp.root)
    note = note_absent(camp.root, entry("b1", absent="ill"))
    assert (note.value, note.unit) == ("", "")
    assert current_entries(camp.root, TODAY) == ()
    assert all_imports(camp.root) == before
    assert [one.absent for one in absences(camp.root, TODAY)] == ["ill"]
    take_back(camp.root, note, "Sage")
    assert absences(camp.root, TODAY) == ()
    note_absent(camp.root, entry("b2", absent="away"))
    assert forget(camp.root, "T1") == 1
    assert absences(camp.root, TODAY) == ()


def test_only_the_short_list_is_a_reason(camp: Camp) -> None:
    with pytest.raises(DecisionError, match="pick one of these"):
        note_absent(camp.root, entry("c1", absent="a long medical story"))


def sent(**more: object) -> dict[str, object]:
    return {
        "id": "x", "athlete": "T1", "value": "73.4", "absent": "", "on": TODAY.isoformat(), "by": "Sage",
        "measure": "body_mass", "unit": "kg", "trial": 1, "conditions": {}, "answered": [], "instead_of": "", **more,
    }  # fmt: skip


@pytest.mark.parametrize(
    "wrong",
    [
        {"athlete": "T9"}, {"value": "nan"}, {"value": "heavy"}, {"absent": "gossip"}, {"on": "2032-08-01"},
        {"on": "2032-08-21"}, {"on": "soon"}, {"by": 3}, {"trial": "two"}, {"unit": "k" * 500},
    ],
)  # fmt: skip
def test_nothing_that_a_browser_sends_is_trusted(wrong: dict[str, object]) -> None:
    taken, refused = sent_entries({"entries": [sent(**wrong), sent(id="y")]}, {"T1"}, TODAY)
    assert (list(taken), list(refused)) == (["y"], ["x"])


@pytest.mark.parametrize("value", [None, "text", {"entries": "text"}, {"entries": [3, {}]}])
def test_what_is_no_list_of_entries_is_nothing(value: object) -> None:
    assert sent_entries(value, {"T1"}, TODAY) == ({}, {})


def test_the_tally_counts_the_three_states() -> None:
    saved = InLine(athlete_id="T1", name="A", saved={1: entry("d")})
    absent = InLine(athlete_id="T2", name="B", saved={}, absent=entry("e", absent="ill"))
    to_come = InLine(athlete_id="T3", name="C", saved={})
    assert tally_text([saved, absent, to_come]) == "Saved today: 1 of 3. Cannot today: 1. To come: 1."
    assert tally_text([saved]) == "Saved today: 1 of 1. Nobody is to come: 1 athlete."
