"""The rule for a session's value is written in one file, and each statement that uses it is complete."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from latewood.pipeline.warehouse.session_rule import in_warehouse, portable

SQL = Path(str(files("latewood.pipeline.warehouse") / "sql"))


def test_the_summaries_are_told_apart_in_one_file_of_sql() -> None:
    texts = {
        path.relative_to(SQL).as_posix(): path.read_text(encoding="utf-8") for path in SQL.rglob("*.sql")
    }
    assert [name for name, text in texts.items() if "when 'median'" in text] == ["rule/own_value.sql"]


@pytest.mark.parametrize(
    "text",
    [
        in_warehouse(),
        portable("session_summary", "session_id, athlete_id, measure, own_line"),
        portable("stay_sums", "measure, line, stay_id, day"),
    ],
)
def test_every_statement_that_uses_it_is_filled(text: str) -> None:
    assert "when 'mean of best' then" in text
    assert "{" not in text
