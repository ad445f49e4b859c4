"""An answer refits only the measures that it touched, and the measures into which that one enters."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import NotComputedError
from latewood.pipeline.stats.checks.refits import RefitDifference
from latewood.pipeline.warehouse.guarded import Guard
from latewood.pipeline.warehouse.linked import ENTERS, Linked, Step, by_measure_kept, fitted_of
from latewood.pipeline.warehouse.memo import Memo
from latewood.pipeline.warehouse.separate import by_measure

KEYS = ("exit_speed", "throw_speed", "trap_bar_deadlift")
MEASURES = {key: load_catalogue().measures[key] for key in KEYS}
STEP = Step(
    words="a step",
    tables=((RefitDifference, "a_step"),),
    applies=lambda measure: measure.family != "strength",
    enter=("trap_bar_deadlift",),
)


def sums(folder: Path, **values: float) -> tuple[list[str], list[tuple[str, float]], Guard]:
    """Which measures were made anew, the results, and the guard; a measure's result is the sum of all that it sees."""
    rows = pd.DataFrame({"measure": [k for k in KEYS for _ in range(2)], "value": 1.0})
    for key, value in values.items():
        rows.loc[rows["measure"] == key, "value"] = value
    guard, made = Guard(), []

    def make(measures, seen):
        (key,) = fitted_of(measures)
        assert {k: m.family == ENTERS for k, m in measures.items()} == {key: False, "trap_bar_deadlift": True}
        assert set(seen["measure"]) == {key, "trap_bar_deadlift"}
        made.append(key)
        if (seen["value"] < 0).any():
            raise NotComputedError("no answer")
        return [[RefitDifference(size=float(seen["value"].sum()), name=key)]]

    record = Linked(
        memo=Memo(folder=folder), guard=guard, sessions=rows, parts=by_measure(rows), measures=MEASURES
    )
    (table,) = by_measure_kept(record, STEP, make)
    return made, [(one.name, one.size) for one in table], guard


def test_only_what_was_touched_is_made_again(tmp_path):
    assert sums(tmp_path)[:2] == (["exit_speed", "throw_speed"], [("exit_speed", 4.0), ("throw_speed", 4.0)])
    assert sums(tmp_path)[:2] == ([], [("exit_speed", 4.0), ("throw_speed", 4.0)])
    assert sums(tmp_path, throw_speed=2.0)[:2] == (
        ["throw_speed"],
        [("exit_speed", 4.0), ("throw_speed", 6.0)],
    )
    assert sums(tmp_path, trap_bar_deadlift=3.0)[0] == ["exit_speed", "throw_speed"]


def test_a_measure_without_an_answer_is_noted_every_time_and_stops_no_other(tmp_path):
    for _ in range(2):
        made, result, guard = sums(tmp_path, throw_speed=-1.0)
        assert "throw_speed" in made
        assert result == [("exit_speed", 4.0)]
        assert [(one.step, one.measure) for one in guard.noted] == [("a step", "throw_speed")]
