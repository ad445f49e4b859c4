"""Targets beside what was tested: by name, each with its outcome, and counted."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from latewood.dashboard.views.cohorts.targets import NONE, build_targets
from latewood.pipeline.ingest.logs.focus import Focus
from tests.dashboard.made import LATER, TEE, VALUE, lookup

TODAY = date(2032, 8, 20)
FOCUS = Focus(
    focus_id="f1", at="2032-07-01T10:00:00+00:00", by="Fen", athlete_id="T3", text="Swing hard.", measure="exit_speed",
    review_on="2032-08-15", target="34.0",
)  # fmt: skip
OF = ("exit_speed", TEE)


def test_each_target_stands_by_name_with_its_outcome_and_they_are_counted() -> None:
    reached = replace(FOCUS, athlete_id="T1")
    view = build_targets((FOCUS, reached), (VALUE, LATER), OF, lookup(), TODAY)
    assert [row.name for row in view.rows] == ["Arlo Fernmoss", "Cleo Marshreed"]
    (first, second), scale = view.rows, lookup().mean_scale("exit_speed")
    assert first.target == f"{scale.text(34.0)} by 15 Aug 2032"
    assert first.text.startswith(
        f"Reached: {scale.text(35.4)} on 11 Aug 2032; chance that the true value was there that day: "
    )
    assert first.text.endswith("Set by Fen, 1 Jul 2032.")
    assert second.text.startswith("Not tested: no test yet.")
    assert view.summary == "1 reached, 1 not tested"


def test_the_last_target_counts_and_those_of_other_measures_or_without_a_number_do_not() -> None:
    log = (
        replace(FOCUS, athlete_id="T1"), replace(FOCUS, athlete_id="T1", target="36.0"),
        replace(FOCUS, athlete_id="T1", target=""), replace(FOCUS, measure="sprint_60yd", target="7.0"),
    )  # fmt: skip
    (row,) = build_targets(log, (VALUE, LATER), OF, lookup(), TODAY).rows
    assert row.outcome == "too close to tell"  # 35.4 of 36.0, one error is 0.5
    assert build_targets((), (VALUE,), OF, lookup(), TODAY).summary == NONE


def test_a_test_from_before_the_target_was_set_does_not_count_on_its_day() -> None:
    set_late = replace(FOCUS, athlete_id="T1", at="2032-08-12T10:00:00+00:00")
    assert build_targets((set_late,), (LATER,), OF, lookup(), TODAY).rows[0].outcome == "not tested"
    waits = build_targets((set_late,), (LATER,), OF, lookup(), date(2032, 8, 13)).rows[0]
    assert waits.text.startswith("Not due: 127.4")
