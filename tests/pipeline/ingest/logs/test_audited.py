"""A focus and its line of the audit log: both stand, or neither, and a crash between the two is told late."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date

import pytest

from latewood.pipeline.errors import AuditError
from latewood.pipeline.ingest.logs import focus
from latewood.pipeline.ingest.logs.lines import append_line, whole_bytes
from tests.audited import logged_actions
from tests.conftest import Camp


def written(camp: Camp, text: str) -> focus.Focus:
    return focus.write(
        camp.root,
        focus.NewFocus(athlete_id="T1", text=text, measure="exit_speed", review_on=date(2032, 9, 10)),
        "Fen",
    )


def test_a_focus_that_cannot_be_logged_is_not_written(camp: Camp) -> None:
    written(camp, "Stay tall.")
    before = whole_bytes(camp.root / focus.LOG)
    head = camp.root / "landing" / "audit.head"
    words = head.read_text(encoding="utf-8")
    head.write_text(words.replace(words.split()[1], "f" * 64), encoding="utf-8")
    with pytest.raises(AuditError):
        written(camp, "Lead with the hip.")
    assert whole_bytes(camp.root / focus.LOG) == before
    head.write_text(words, encoding="utf-8")
    written(camp, "Lead with the hip.")
    assert [one.text for one in focus.read_log(camp.root)] == ["Stay tall.", "Lead with the hip."]
    assert len(logged_actions(camp.root)) == 2


def test_a_focus_whose_line_a_crash_took_is_logged_with_the_next(camp: Camp) -> None:
    first = written(camp, "Stay tall.")
    lost = asdict(first) | {"focus_id": "0" * 12, "text": "Lead with the hip."}
    append_line(camp.root / focus.LOG, lost)
    last = written(camp, "Quiet front side.")
    words = [(line.details["focus"], line.details.get("late", False)) for line in logged_actions(camp.root)]
    assert words == [(first.focus_id, False), ("0" * 12, True), (last.focus_id, False)]
