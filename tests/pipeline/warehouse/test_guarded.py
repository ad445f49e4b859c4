"""One estimate without an answer is left out with its reason; all others of the build are there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from latewood.dashboard.views.data.steward import build_left_out
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.errors import NotComputedError
from latewood.pipeline.stats.change.results import NotComputed
from latewood.pipeline.warehouse.guarded import Guard

MEASURES = load_catalogue().measures
KEYS = ("exit_speed", "throw_speed", "broad_jump")


@dataclass(frozen=True)
class Row:
    measure: str


def failing(bad: str, how):
    def made(measures):
        if bad in measures:
            how()
        return [tuple(Row(key) for key in KEYS if key in measures)]

    return made


@pytest.mark.parametrize(
    "how",
    [
        lambda: np.linalg.inv(np.zeros((2, 2))),
        lambda: np.sqrt(np.array([-1.0])),
        lambda: np.zeros(1) / np.zeros(1),
        lambda: 1.0 / 0.0,
        lambda: (_ for _ in ()).throw(NotComputedError("too little")),
    ],
)
def test_one_measure_without_an_answer_leaves_the_others(how) -> None:
    guard = Guard()
    (rows,) = guard.tables("mass and output", KEYS, MEASURES, failing("throw_speed", how))
    assert [row.measure for row in rows] == ["exit_speed", "broad_jump"]
    (note,) = guard.noted
    assert (note.step, note.measure) == ("mass and output", "throw_speed")
    assert note.reason.startswith("could not be computed: ")
    assert guard.failed("mass and output") == {"throw_speed"}


def test_an_error_of_the_program_is_not_hidden() -> None:
    def wrong():
        raise KeyError("a column")

    with pytest.raises(KeyError):
        Guard().one("growth", "", wrong, ())


def test_the_steward_is_told_what_was_left_out() -> None:
    row = NotComputed(step="projection", measure="exit_speed", reason="could not be computed: too little")
    assert build_left_out([], {}) == ()
    assert build_left_out([row], {"exit_speed": "Exit velocity"}) == (
        "Everything but this was computed:",
        "Exit velocity, projection: could not be computed: too little.",
    )
