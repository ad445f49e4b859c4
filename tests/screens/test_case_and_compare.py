"""The case of a stay and Compare, opened from an athlete's page: what stands there, and the coach's own words."""

from __future__ import annotations

import pytest

from latewood.pipeline.ingest.logs import case_words
from tests.opening import open_folds
from tests.screens.test_screens import text_of


def test_the_case_says_what_changed_and_keeps_the_coachs_words(own_root, open_screen) -> None:
    page = open_folds(open_screen(own_root, "case", athlete="T1"))
    assert not page.exception
    text = text_of(page)
    for words in ("What we saw at intake", "Exit speed", "clear gain.", "No focus was written down"):
        assert words in text
    page.selectbox(key="case_part_T1@K").set_value("changed")
    page.text_area(key="case_text_T1@K").set_value("Stronger *every* week.")
    page.text_input(key="case_who_T1@K").set_value("Fen")
    next(one for one in page.button if one.label == "Write it down").click().run()
    assert not page.exception
    (written,) = case_words.read_log(own_root)
    assert (written.part, written.by, written.family) == ("changed", "Fen", False)
    assert "“Stronger *every* week.”" in text_of(page)


def test_a_case_for_the_family_is_refused_without_consent_and_one_for_the_staff_is_made(
    own_root, open_screen
) -> None:
    page = open_folds(open_screen(own_root, "case", athlete="T1"))
    page.text_input(key="case_print_who_T1@K").set_value("Fen")
    page.radio(key="case_whom_T1@K").set_value("family")
    next(one for one in page.button if one.label == "Make the page").click().run()
    assert "no consent is recorded" in page.error[0].value
    page.radio(key="case_whom_T1@K").set_value("staff")
    next(one for one in page.button if one.label == "Make the page").click().run()
    assert not page.error
    assert any("No copy is kept here" in one.value for one in page.success)


def test_compare_answers_on_its_first_screen(one_root, open_screen) -> None:
    page = open_screen(one_root, "compare", athlete="T1")
    assert not page.exception
    text = text_of(page)
    assert "1 of 1 measure differ by more than test days do anyway: Exit speed" in text
    page.button_group(key="compare_kind").set_value("stays").run()
    assert "One stay is on record" in page.info[0].value
    page.button_group(key="compare_kind").set_value("build").run()
    assert "Nobody here counts as similar" in page.info[0].value


def test_similar_athletes_are_compared_with_the_reason_and_without_their_mass(demo_root, open_screen) -> None:
    page = open_screen(demo_root, "compare", athlete="SL-004")
    page.button_group(key="compare_kind").set_value("build").run()
    assert not page.exception
    text = text_of(page)
    assert "Why they count as similar: female, softball; ages" in text
    names = page.selectbox(key="compare_other_SL-004").options
    assert list(names) == sorted(names)
    assert "Body mass" not in text


@pytest.mark.parametrize("screen", ["case", "compare"])
def test_an_unknown_athlete_is_refused_in_words(one_root, open_screen, screen) -> None:
    page = open_screen(one_root, screen, athlete="*nobody*")
    assert not page.exception
    assert "not among those your role covers" in page.warning[0].value
