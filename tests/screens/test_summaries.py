"""The Summaries screen: refused without consent, given by form, shown, issued, withdrawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from latewood.pipeline.ingest.consent import consent_book
from tests.audited import logged_actions


def _text(page) -> str:
    return " ".join(e.value for kind in (page.warning, page.success, page.error, page.info) for e in kind)


def _press(page, label: str) -> None:
    next(b for b in page.button if b.label == label).click().run()


def test_consent_by_form_then_preview_issue_and_withdrawal(own_root: Path, open_screen) -> None:
    page = open_screen(own_root, "summaries", athlete="T1")
    assert "No summary can be made: no consent is recorded" in _text(page)
    assert not [b for b in page.button if b.label == "Issue this summary"]
    assert "called back" in " ".join(e.proto.body for e in page.get("html"))
    page.text_input(key="summaries_T1_who").set_value("Odalys")
    page.text_input(key="summaries_T1_ref").set_value("folder 3")
    _press(page, "Record")
    assert "Consent recorded" in _text(page)
    assert consent_book.refusals(own_root)["T1"] == ""
    assert page.get("image")
    page.text_input(key="summaries_who_one_T1").set_value("Odalys")
    _press(page, "Issue this summary")
    assert "Sheets issued and noted in the register: 1." in _text(page)
    assert page.get("download_button")
    assert [line.event for line in logged_actions(own_root)] == ["consent", "export"]
    page.text_input(key="summaries_withdraw_who_T1").set_value("Odalys")
    _press(page, "Withdraw now")
    assert "Pages marked as withdrawn: 1" in _text(page).replace("\\", "")
    assert "No summary can be made: the consent was withdrawn" in _text(page)
    assert not page.get("image")


def test_what_the_family_states_is_recorded_shown_and_withdrawn(own_root: Path, open_screen) -> None:
    page = open_screen(own_root, "summaries", athlete="T1")
    page.text_input(key="summaries_T1_who").set_value("Odalys")
    page.text_input(key="summaries_T1_ref").set_value("folder 3")
    _press(page, "Record")
    page.toggle(key="summaries_stated_T1").set_value(True).run()
    for text, answer in (("asthma", "speaks of health"), ("Oak [Hollow](x)", "Consent recorded")):
        page.text_input(key="summaries_state_T1_text").set_value(text)
        page.text_input(key="summaries_state_T1_ref").set_value("folder 4")
        _press(page, "Record what is stated")
        assert answer in _text(page)
    assert page.multiselect(key="summaries_shown_T1_school").value == ["school"]
    _press(page, "Issue this summary")
    _press(page, "Withdraw: School")
    assert "School withdrawn. Sheets superseded: 1" in _text(page).replace("\\", "")
    assert consent_book.standing(own_root).by_athlete["T1"].stated == ()


@pytest.mark.parametrize("asked", ["'; drop table athlete; --", "../../x", "<script>", "T999"])
def test_a_deep_link_that_attacks_picks_nobody(one_root: Path, open_screen, asked: str) -> None:
    page = open_screen(one_root, "summaries", athlete=asked)
    assert not page.exception
    assert page.selectbox(key="summaries_athlete").value is None


def test_the_empty_warehouse_says_what_to_do(empty_root: Path, open_screen) -> None:
    page = open_screen(empty_root, "summaries")
    assert not page.exception
    assert page.info
