"""Reasons and proposals of held rows are said once for rows alike: every row gets the words that it would get alone."""

from __future__ import annotations

import pandas as pd
import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.warehouse.held import _words, held_rows
from latewood.pipeline.warehouse.rules import RULES

CATALOGUE = load_catalogue()
# What each column may hold; the first of each is what it holds where another column is tried.
CHOICES: dict[str, tuple[object, ...]] = {
    "athlete_text": ("Ann", "Bo"), "athlete_id": ("A1", None), "date_text": ("1/2/2033", "2/1/2033"),
    "time_text": ("", "9:00"), "measure_text": ("Weight", "Mass"), "measure": ("body_mass", None),
    "raw_value": ("70", "71"), "raw_unit": ("kg", "lb"), "unit": ("kg", "lb", None), "trial_text": ("0", "x"),
    "reps_text": ("", "9"), "reps_factor": (1.2, 1.0), "angle_text": ("11", "12"),
    "on_date": (pd.Timestamp("2033-02-01"), pd.Timestamp("2033-01-02")), "own": (None, 70.5),
    "session_middle": (69.0, 68.0), "standing": (70.0, 72.0), "proposed": (154.0, 32.0, None),
    "proposal": ("value", "athlete", "none"), "detail": ("A2", "A3", None), "group_id": ("g", None),
    "plan_id": ("P1", "P2"), "shown_away": ("1 kg", "2 kg"),
}  # fmt: skip


def outcomes(rule: str | None) -> pd.DataFrame:
    """Rows of which each differs from the first in one column."""
    usual = {name: some[0] for name, some in CHOICES.items()}
    rows = [usual | {name: other} for name, some in CHOICES.items() for other in some]
    fixed = {
        "rule": rule,
        "import_id": "f",
        "row_no": range(2, len(rows) + 2),
        "field": "value",
        "state": "open",
    }
    return pd.DataFrame(rows).assign(**fixed)


@pytest.mark.parametrize("rule", RULES)
def test_a_row_is_told_what_it_would_be_told_alone(rule: str) -> None:
    rows = outcomes(rule)
    made = held_rows(rows, CATALOGUE)
    alone = [_words(rule, {str(k): v for k, v in row.items()}, CATALOGUE) for row in rows.to_dict("records")]
    assert list(zip(made["reason"], made["proposed_text"], strict=True)) == alone


def test_a_rejected_row_without_a_rule_says_so() -> None:
    made = held_rows(outcomes(None), CATALOGUE)
    assert set(made["reason"]) == {"rejected by a decision"}
    assert set(made["group_id"]) == {"g", "f:rejected:body_mass"}
    assert made["held_id"].tolist()[:2] == ["f:2:value", "f:3:value"]


def test_without_held_rows_there_is_nothing_to_say() -> None:
    assert held_rows(outcomes("no_value").iloc[:0], CATALOGUE).empty
