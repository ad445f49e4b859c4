"""The page that says how long a page change takes counts what it was given."""

from __future__ import annotations

from tests.tools.pace import Change, page, table


def changes(*seconds: float, first: float, screen: str = "Data", role: str = "data_steward") -> list[Change]:
    words = [Change(role=role, screen=screen, seconds=one, first=False) for one in seconds]
    return [Change(role=role, screen=screen, seconds=first, first=True), *words]


def test_a_line_has_middle_and_edge_of_the_later_visits_and_the_first_apart() -> None:
    result = changes(*(0.1 * n for n in range(1, 22)), first=9.0) + changes(0.5, first=2.0, screen="Plans")
    lines = table(result).splitlines()
    # 0.1 to 2.1 in 21 equal steps: the middle is 1.1, 19/20 of the way from the lowest to the highest is 2.0
    assert lines[2] == "| Data | 1 | 21 | 1.10 | 2.00 | 9.00 |"
    assert lines[3] == "| Plans | 1 | 1 | 0.50 | 0.50 | 2.00 |"
    assert lines[-1].startswith("| **all** | 1 | 22 |")


def test_the_page_says_whether_the_aim_is_met_and_how_busy_the_machine_was() -> None:
    assert "under 1 s: met." in page(changes(0.2, 0.4, first=3.0), (0.1, 0.2))
    slow = page(changes(1.5, 1.5, first=3.0), (7.25, 9.0))
    assert "under 1 s: not met, by 0.50 s." in slow
    assert "Load average 7.2 before and 9.0 after" in slow
