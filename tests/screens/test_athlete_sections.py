"""The athlete page: one screen that answers alone, and sections that are drawn when they are asked for."""

from __future__ import annotations

from contextlib import closing

import pytest

from latewood.dashboard.screens.athlete.sections import EVERY, NAMES
from latewood.pipeline.warehouse.connection import open_published
from tests.opening import links_of
from tests.screens.test_screens import ask, text_of

HEADINGS = {
    "changes": "What changed",
    "time": "On one time axis",
    "account": "The account of a change",
    "build": "Among athletes of similar build",
    "ahead": "Where this may go",
    "review": "Since intake, since the last review, and next",
    "family": "Page for athlete and family",
}


def headings(page) -> list[str]:
    return [one.value for one in page.subheader]


def test_the_first_screen_answers_alone(one_root, open_screen) -> None:
    page = open_screen(one_root, "athlete", athlete="T1")
    assert not page.exception
    text = text_of(page)
    assert "Heath camp: day 71" in text
    assert "Changed for sure: Exit speed +" in text
    assert "What waits: nothing." in text
    assert "(trend of weigh-ins)" in text
    assert "Clear gain" in text
    assert headings(page) == ["Arlo Fernmoss"]
    assert not page.get("vega_lite_chart")


@pytest.mark.parametrize("section", HEADINGS)
def test_a_section_is_drawn_alone_when_it_is_asked_for(section, one_root, open_screen) -> None:
    page = open_screen(one_root, "athlete", athlete="T1", section=section)
    assert not page.exception
    assert [one for one in headings(page) if one in HEADINGS.values()] == [HEADINGS[section]]


def test_beside_one_section_the_first_sight_makes_room(one_root, open_screen) -> None:
    assert "What waits:" not in text_of(open_screen(one_root, "athlete", athlete="T1", section="changes"))
    assert "What waits:" in text_of(open_screen(one_root, "athlete", athlete="T1", section=EVERY))


def test_the_first_screen_names_the_weight_plan_that_runs(demo_root, open_screen) -> None:
    query = "select min(plan_id), min_by(athlete_id, plan_id) from plan_review where status = 'too fast'"
    plan, who = ask(demo_root, query)
    links = links_of(open_screen(demo_root, "athlete", athlete=who))
    (link,) = (one.proto for one in links if "Weight plan" in one.proto.label)
    assert link.label.replace("\\", "").startswith("Weight plan: too fast")
    assert plan in str(link)


def test_a_name_typed_above_a_screen_opens_the_athlete_or_lists_those_it_fits(demo_root, open_screen) -> None:
    page = open_screen(demo_root, "athlete", find="thistlewick")
    links = [one.proto.label.replace("\\", "") for one in links_of(page)]
    assert links == ["Rowan T. Thistlewick", "Rowan Thistlewick"]
    assert "Nobody on the roster is called" in text_of(open_screen(demo_root, "athlete", find="Nobody"))


def test_a_section_is_picked_by_its_link_and_everything_can_be_drawn(one_root, open_screen) -> None:
    page = open_screen(one_root, "athlete", athlete="T1")
    page.button_group(key="athlete_section_T1").set_value("changes").run()
    assert "What changed" in headings(page)
    page = open_screen(one_root, "athlete", athlete="T1", section=EVERY)
    assert set(HEADINGS.values()) <= set(headings(page))


def test_an_address_with_no_such_section_opens_none(one_root, open_screen) -> None:
    assert headings(open_screen(one_root, "athlete", athlete="T1", section="*nothing*")) == ["Arlo Fernmoss"]


def test_the_athletes_before_and_after_are_a_link_away(demo_root, open_screen) -> None:
    (camp,) = ask(demo_root, "select max(camp_id) from stay")
    query = f"from stay join athlete using (athlete_id) where camp_id = '{camp}' order by lower(display_name) limit 3"
    with closing(open_published(demo_root)) as connection:
        first, own, last = connection.execute(f"select athlete_id, display_name {query}").fetchall()
    page = open_screen(demo_root, "athlete", athlete=own[0])
    links = [one.proto.label.replace("\\", "") for one in links_of(page)]
    assert links[:2] == [f"Previous: {first[1]}", f"Next: {last[1]}"]


def test_the_picker_speaks_of_a_person(demo_root, open_screen) -> None:
    page = open_screen(demo_root, "athlete")
    (picker,) = (one for one in page.selectbox if one.label == "Athlete")
    assert picker.placeholder == "Pick one, or type the name"


def test_every_section_has_a_name() -> None:
    assert set(HEADINGS) < set(NAMES)
