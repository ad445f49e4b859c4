"""How soon a stall would show: where a plan is made and where it is read, from the table of the build."""

from __future__ import annotations

from latewood.dashboard.text.wording import THIN, chance_text
from tests.screens.conftest import ask
from tests.screens.test_screens import text_of


def test_an_opened_plan_tells_how_soon_a_stall_would_show(own_root, open_screen) -> None:
    page = open_screen(own_root, "plan", plan="P1")
    assert not page.exception
    words = text_of(page).replace(THIN, " ")
    assert "How soon a stall would show" in words
    assert "if nothing at all is gained, the alarm says so by week 2 in none" in words
    assert "called off plan by mistake over" in words
    rate, recent, weeks = ask(
        own_root,
        "select planned_rate, weighins_two_weeks, weeks_in + weeks_left from plan_review where plan_id = 'P1'",
    )[0]
    (share,) = ask(
        own_root,
        "select called from plan_power where week = 6 and "
        f"per_week = {min(recent // 2, 7)} and gap_rate <= {rate} and plan_weeks >= {min(weeks, 20)} "
        "order by plan_weeks, gap_rate desc limit 1",
    )[0]
    assert f"by week 6 in {chance_text(share)}".replace(THIN, " ") in words


def test_a_plan_to_be_made_tells_it_before_it_is_saved(camp_root, open_screen) -> None:
    page = open_screen(camp_root, "new_plan", athlete="T8")
    assert not page.exception
    words = text_of(page).replace(THIN, " ")
    assert "Weighed 3 times a week: if nothing at all is gained" in words
    assert "Weighed 7 times a week: if half the planned rate is gained" in words
