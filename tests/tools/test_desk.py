"""The page of the import desk adds up what was counted."""

from __future__ import annotations

import pytest

from tests.tools.desk import Taken, document


@pytest.mark.parametrize(("seconds", "kept"), [(299.0, "kept, 10.0"), (301.0, "not kept, 10.0")])
def test_the_page_adds_clicks_and_seconds_and_says_whether_the_aim_is_kept(seconds: float, kept: str) -> None:
    taken = [Taken(file=name, values=12, clicks=5, seconds=seconds) for name in ("a.csv", "b.xlsx")]
    text = document(taken, 11.6)
    assert "| a.csv | 12 | 5 |" in text
    assert f"| **all 2** | 24 | 10 | {2 * seconds:.0f} |" in text
    assert f"within 10 minutes: {kept} minutes" in text
