"""Weigh-in and test stations: doubts, conditions, undo, and what the page says of what is saved."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from latewood.dashboard.views.weighin.typing import usual_conditions
from latewood.pipeline.ingest.logs.entered import TypedEntry, current_entries, take_back
from tests.typed import type_in

TODAY = date(2032, 8, 10)
TEE = {"delivery": "tee", "bat": "metal", "ball": "baseball", "device": "radar"}
UNTOLD = "results follow with the next build"


def open_station(open_screen, root: Path, **query: str) -> AppTest:
    page = open_screen(root, "weighin", view="all", **query)
    assert not page.exception
    page.text_input(key="weighin_who").set_value("Sage").run()
    return page


def field(page: AppTest, trial: int = 1):
    (result,) = (one for one in page.number_input if one.key.split("_")[-2] == str(trial))
    return result


def texts(page: AppTest) -> str:
    return " ".join(one.proto.body for one in page.get("html"))


def standing(root: Path) -> list[TypedEntry]:
    return list(current_entries(root, TODAY))


def press(page: AppTest, label: str) -> None:
    next(one for one in page.button if one.label == label).click().run()


def test_an_undo_empties_the_field_and_the_same_number_saves_again(own_root, open_screen) -> None:
    page = open_station(open_screen, own_root)
    field(page).set_value(163.4).run()
    assert [one.value for one in standing(own_root)] == ["163.4"]
    first = field(page).key
    press(page, "Undo")
    assert standing(own_root) == []
    assert field(page).value is None
    assert field(page).key != first  # a page keeps what is typed in a field that stays
    field(page).set_value(163.4).run()
    assert [one.value for one in standing(own_root)] == ["163.4"]


def test_a_station_undoes_one_trial_and_takes_it_again(own_root, open_screen) -> None:
    page = open_station(open_screen, own_root, measure="exit_speed")
    state(page)
    field(page, 2).set_value(88.5).run()
    press(page, "Undo")
    assert field(page, 2).value is None
    field(page, 2).set_value(88.5).run()
    assert [(one.trial, one.value, one.conditions) for one in standing(own_root)] == [(2, "88.5", TEE)]


def test_what_another_tablet_undid_or_mended_is_not_saved_again_from_here(own_root, open_screen) -> None:
    page = open_station(open_screen, own_root)
    field(page).set_value(163.4).run()
    (mine,) = standing(own_root)
    given = {"by": "Fen", "athlete_id": "T1", "measure": "body_mass", "measured_on": TODAY, "unit": "lb"}
    corrected = type_in(own_root, value="163.0", **given)
    take_back(own_root, mine, "Fen")
    page.run()
    assert standing(own_root) == [corrected]
    take_back(own_root, corrected, "Fen")
    page.run()
    assert standing(own_root) == []
    assert field(page).value is None


def test_after_saving_the_page_says_that_a_build_is_needed_until_it_is_made(own_root, open_screen) -> None:
    page = open_station(open_screen, own_root)
    assert "Everything saved is on the screens." in texts(page)
    field(page).set_value(163.4).run()
    assert UNTOLD in texts(page)
    assert "Everything saved is on the screens." not in texts(page)
    press(page, "Build now")
    assert not page.exception
    assert "Everything saved is on the screens." in texts(page)
    assert any("Published" in one.value for one in page.success)


def state(page: AppTest) -> None:
    for key, word in TEE.items():
        page.selectbox(key=f"entry_exit_speed_{key}").set_value(word)
    page.run()


def test_nothing_can_be_typed_before_the_conditions_are_stated(own_root, open_screen) -> None:
    page = open_station(open_screen, own_root, measure="exit_speed")
    assert "Set first, above: ball and device" in texts(page)
    assert [page.selectbox(key=f"entry_exit_speed_{key}").value for key in ("delivery", "bat")] == [
        "tee",
        "metal",
    ]
    assert len(page.number_input) == 0
    state(page)
    assert len(page.number_input) > 0


def test_a_speed_far_from_the_athletes_own_is_asked_about_and_saved_with_the_answer(
    own_root, open_screen
) -> None:
    page = open_station(open_screen, own_root, measure="exit_speed")
    state(page)
    field(page).set_value(118.0).run()
    assert standing(own_root) == []
    assert "Trial 1: Not saved yet: 118.0" in texts(page)
    assert "Last value:" in texts(page)
    press(page, "It is right, save it")
    (saved,) = standing(own_root)
    assert saved.value == "118.0"
    assert "is above what is expected" in saved.confirmed


def test_the_second_side_of_a_measure_does_not_take_the_place_of_the_first(own_root, open_screen) -> None:
    page = open_station(open_screen, own_root, measure="grip_strength")
    for side in ("throwing", "other"):
        page.selectbox(key="entry_grip_strength_elbow").set_value("bent")
        page.selectbox(key="entry_grip_strength_side").set_value(side).run()
        assert field(page).value is None
        field(page).set_value(88.0).run()
    assert [one.conditions["side"] for one in standing(own_root)] == ["throwing", "other"]


@pytest.mark.parametrize(
    ("counted", "found"),
    [
        ([({"bat": "metal"}, 9), ({"bat": "wood"}, 1)], {"bat": "metal"}),
        ([({"bat": "metal"}, 8), ({"bat": "wood"}, 2)], {}),
        ([({}, 5)], {}),
        ([], {}),
    ],
)
def test_a_condition_begins_as_nearly_all_of_the_last_camp(counted, found) -> None:
    assert usual_conditions({"bat": ("metal", "wood")}, counted) == found
