"""What is planned: test days worked out at a press, a group's plans through one form, a target at first sight."""

from __future__ import annotations

import pytest

from tests.browser.test_every_screen import LOOKS, WIDER, bad_of, show

DONE = "document.querySelector('[data-testid=stApp]')?.dataset.testScriptState === 'notRunning'"
SIGHT = 900  # pixels of the first screen of a desk


@pytest.fixture(params=["desk", "tablet, dark", "phone"])
def seen_tab(tab_as, request):
    return tab_as(LOOKS[request.param])


def is_sound(tab) -> None:
    assert tab.evaluate(WIDER) == []
    assert bad_of(tab) == []


def test_test_days_are_worked_out_only_at_a_press_and_stand_beside_each_other(seen_tab, address) -> None:
    tab = seen_tab
    show(tab, f"{address}/camp_review?camp=F")
    tab.locator("summary").filter(has_text="Plan the test days").click()
    press = tab.get_by_role("button", name="Work it out")
    press.wait_for(timeout=30_000)
    tab.wait_for_function(DONE)
    assert "takes about 20 seconds" in tab.locator("[data-testid=stMain]").inner_text()
    assert tab.get_by_text("As you test now").count() == 0
    press.click()
    tab.get_by_text("As you test now").wait_for(timeout=120_000)
    tab.get_by_text("As now: every 2.6 weeks, 10 trials").first.wait_for(timeout=30_000)
    tab.wait_for_function(DONE)
    text = tab.locator("[data-testid=stMain]").inner_text()
    assert "Twice at intake" in text
    assert "by luck:" in text
    assert "minutes" in text
    is_sound(tab)


def test_a_click_elsewhere_does_not_lose_the_test_days(tab, address) -> None:
    show(tab, f"{address}/camp_review?camp=F")
    tab.locator("summary").filter(has_text="Plan the test days").click()
    press = tab.get_by_role("button", name="Work it out")
    press.wait_for(timeout=30_000)
    tab.wait_for_function(DONE)
    press.click()
    tab.get_by_text("Playing the camps").wait_for(timeout=30_000)
    tab.get_by_text("Metric", exact=True).click()
    tab.get_by_text("As you test now").wait_for(timeout=120_000)


def test_plans_of_a_group_have_a_row_each_and_those_left_out_a_reason(seen_tab, address) -> None:
    tab = seen_tab
    show(tab, f"{address}/new_plan")
    tab.get_by_role("radio", name="A group").or_(tab.get_by_role("button", name="A group")).first.click()
    group = tab.get_by_role("combobox", name="Group")
    group.wait_for(timeout=30_000)
    group.fill("Everybody")
    group.press("Enter")
    tab.get_by_role("button", name="Save ").wait_for(timeout=30_000)
    tab.wait_for_function(DONE)
    assert tab.get_by_text("starts from").count() >= 8
    tab.locator("summary").filter(has_text="Not in a group").click()
    tab.get_by_text("has a plan that runs").first.wait_for(timeout=30_000)
    is_sound(tab)


def test_a_target_that_waits_is_drawn_at_first_sight(tab, address) -> None:
    show(tab, f"{address}/athlete?athlete=SL-002")
    row = tab.locator(".lw-row").filter(has_text="Waits for its day")
    assert row.count() == 1
    assert row.locator(".lw-rule").count() == 1
    box = row.bounding_box()
    assert box["y"] + box["height"] <= SIGHT
    show(tab, f"{address}/athlete?athlete=SL-002&section=ahead")
    tab.get_by_text("Targets that were set").wait_for(timeout=30_000)
    assert tab.locator(".lw-rule").count() == 1
    is_sound(tab)
