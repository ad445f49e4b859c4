"""The movement part of the athlete's page: days, order, and the trial as recorded that is worth a look first."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.movement_folder import MARLWICK, REEDWHISTLE, movement_folder
from tests.shared import shared


@pytest.fixture(scope="module")
def traced_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shared(tmp_path_factory, "traced", lambda at: movement_folder(at, MARLWICK, REEDWHISTLE))


def said(page) -> str:
    return " ".join(str(part.proto.body) for part in page.get("html"))


def test_the_trial_with_a_fault_is_drawn_first_and_another_can_be_picked(open_screen, traced_root) -> None:
    page = open_screen(traced_root, "athlete", athlete=MARLWICK, section="all")
    assert not page.exception
    assert "One trial as recorded" in [one.value for one in page.subheader]
    assert not [one for one in page.selectbox if one.label == "Trial"]
    page.session_state[f"trace_open_{MARLWICK}"] = True  # the fold, opened
    page.run()
    assert not page.exception
    trial = next(one for one in page.selectbox if one.label == "Trial")
    assert trial.value == "Trial 2: 1 to look at"
    assert "1000 samples a second" in said(page)
    page = trial.select("Trial 6: 1 to look at").run()
    assert not page.exception
    assert "from line 1957" in said(page)


def test_two_days_are_overlaid_and_one_segment_is_picked(open_screen, traced_root) -> None:
    page = open_screen(traced_root, "athlete", athlete=MARLWICK, section="movement")
    assert not page.exception
    assert "Peaks of 16 Jun 2033: torso ≈ pelvis ≈ lead arm → bat." in said(page)
    assert "Peaks of 25 Jul 2033: pelvis → torso → lead arm → bat." in said(page)
    assert "marks two events" not in said(page)  # each trial marks the front foot and the contact
    boxes = {one.label: one for one in page.selectbox}
    assert (boxes["Day"].value, boxes["Overlaid with"].value) == (
        "2033-07-25 swing action=swing; sensor_class=inertial",
        "2033-06-16 swing action=swing; sensor_class=inertial",
    )
    assert boxes["Time axis"].options == ["ms from the event", "% from foot down to contact"]
    page = boxes["Time axis"].select("% from foot down to contact").run()
    assert not page.exception
    assert "Peaks of 25 Jul 2033: pelvis → torso → lead arm → bat." in said(page)
    page = boxes["Segment"].select("torso").run()
    assert not page.exception
    assert "Peaks of 25 Jul 2033: torso." in said(page)
    other = next(one for one in page.selectbox if one.label == "Overlaid with")
    page = other.select("none").run()
    assert not page.exception
    assert "16 Jun 2033: torso" not in said(page)


def test_nothing_is_overlaid_where_no_trial_was_taken(open_screen, traced_root) -> None:
    page = open_screen(traced_root, "athlete", athlete=REEDWHISTLE, section="movement")
    assert not page.exception
    assert "Nothing to overlay: no trial was taken yet." in said(page)


def test_all_reversed_asks_for_the_side(open_screen, traced_root) -> None:
    page = open_screen(traced_root, "athlete", athlete=REEDWHISTLE, section="all")
    assert not page.exception
    assert "Which side does the athlete use?" in said(page)
