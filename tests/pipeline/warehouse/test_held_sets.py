"""A maximum that is proposed for a held row says what it was estimated from."""

from __future__ import annotations

import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.warehouse.held import _words

CATALOGUE = load_catalogue()
POUND = 0.45359237
FACTOR = 7.0 / 6.0  # five repetitions by Epley: 1 + 5/30


def row(reps: str, factor: float) -> dict[str, object]:
    return {
        "measure": "trap_bar_deadlift", "proposal": "value", "unit": "lb",
        "proposed": 259.0 * POUND * (factor if reps else 1.0),
        "reps_text": reps, "reps_factor": factor, "raw_value": "259", "raw_unit": "kg", "own": None,
        "session_middle": None, "standing": None, "on_date": None, "detail": None, "other_unit": "lb",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("reps", "factor", "shown"),
    [
        ("5", FACTOR, "302.2 lb, estimated from 259.0 lb × 5"),
        ("1", 1.0, "259.0 lb"),
        ("", 1.0, "259.0 lb"),
        ("", float("nan"), "259.0 lb"),
    ],
)
def test_the_proposal_names_the_set(reps: str, factor: float, shown: str) -> None:
    _, proposal = _words("whole_file_unit", row(reps, factor), CATALOGUE)
    assert proposal == shown
