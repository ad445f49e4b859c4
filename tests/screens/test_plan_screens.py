"""Weight plans on screen: the decision is recorded and shown, a plan is made or refused, a mass is hidden."""

from __future__ import annotations

import json
from datetime import date

from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.logs.planlog import read_log
from tests.opening import links_of, open_folds, words_of
from tests.screens.conftest import ask
from tests.screens.test_screens import text_of


def press(page, label: str):
    next(button for button in page.button if button.label == label).click()
    return page.run()


def decide(page, decision: str, who: str, note: str):
    page.radio(key="plan_decide_P1_what").set_value(decision)
    page.text_input(key="plan_decide_P1_who").set_value(who)
    page.text_input(key="plan_decide_P1_note").set_value(note)
    return press(page, "Record the decision")


def test_a_decision_is_recorded_and_stands_on_the_board(own_root, open_screen) -> None:
    page = decide(open_screen(own_root, "plan", plan="P1"), "raise intake", "Fen", "needs breakfast")
    assert not page.exception
    assert "Recorded: raise intake" in words_of(page.success[0].value)
    (event,) = read_log(own_root)
    assert (event.decision, event.by, event.note, event.review_on) == (
        "raise intake", "Fen", "needs breakfast", date(2032, 8, 17),
    )  # fmt: skip
    assert event.facts["seen"]["status"] == ask(own_root, "select status from plan_review")[0][0]
    assert "decided 10 Aug: raise intake" in text_of(open_screen(own_root, "plans"))
    text = text_of(open_folds(open_screen(own_root, "plan", plan="P1")))
    assert "Raise intake, 10 Aug 2032, by Fen; review 17 Aug: needs breakfast" in text
    assert "shows after the next build" in text


def test_a_decision_without_a_name_or_reason_is_refused(own_root, open_screen) -> None:
    page = decide(open_screen(own_root, "plan", plan="P1"), "keep", "", "fine")
    assert "not named" in page.error[0].value
    page = decide(page, "keep", "Fen", "")
    assert "needs a reason" in page.error[0].value
    assert read_log(own_root) == ()


def test_what_happened_since_a_decision_shows_with_intervals(own_root, open_screen) -> None:
    log = {
        "event_id": "e1", "at": "2032-07-20T12:00:00-05:00", "by": "Fen", "kind": "decided", "plan_id": "P1",
        "athlete_id": "T1", "decision": "keep", "note": "fine", "facts": {"review_on": "2032-08-09"},
    }  # fmt: skip
    (own_root / "plan_log.jsonl").write_text(json.dumps(log) + "\n", encoding="utf-8")
    build(own_root)
    board = text_of(open_screen(own_root, "plans"))
    text = text_of(open_screen(own_root, "plan", plan="P1"))
    assert "Since: +0.4" in text
    assert "21 weigh-ins in 20 days" in text or "20 weigh-ins in 20 days" in text
    assert "Look again: review was due on 9 Aug" in text
    assert "look again: review was due on 9 Aug" in board
    assert "1 need" in board


def test_an_opened_plan_says_why_and_gives_what_if_and_energy_with_cautions(own_root, open_screen) -> None:
    page = open_screen(own_root, "plan", plan="P1")
    text = text_of(page)
    assert "Decision table" in text
    assert "chance" in text.lower()
    assert "a dietitian and a physician decide" in text
    chance = text.split("Chance to be there by the date: ")[1].split(" %")[0]
    page.number_input(key="plan_if_P1_target_lb").set_value(170.0).run()
    again = text_of(page).split("Chance to be there by the date: ")[1].split(" %")[0]
    assert again != chance


def test_the_plan_beyond_the_ceiling_cannot_be_saved_and_a_gentle_one_can(own_root, open_screen) -> None:
    page = open_screen(own_root, "plan", plan="P1")
    page.number_input(key="plan_change_P1_target_lb").set_value(185.0).run()
    assert "above the ceiling of 0.5 %" in words_of(page.error[0].value)
    assert not [button for button in page.button if button.label == "Save the plan"]
    page.number_input(key="plan_change_P1_target_lb").set_value(163.2)
    page.date_input(key="plan_change_P1_on").set_value(date(2032, 9, 14))
    page.text_input(key="plan_change_P1_guardian").set_value("Ilse Fenwood")
    page.text_input(key="plan_change_P1_who").set_value("Fen")
    page.run()
    assert not page.error
    page = press(page, "Save the plan")
    assert "Saved plan P1" in page.success[0].value
    build(own_root)
    rows = ask(own_root, "select version, round(target_kg * 2.20462, 1), made_by from plan order by version")
    assert rows[1] == (2, 163.2, "Fen")
    assert "Version 1:" in text_of(open_folds(open_screen(own_root, "plan", plan="P1")))


def test_create_plan_is_absent_for_an_athlete_under_fourteen(camp_root, open_screen) -> None:
    page = open_screen(camp_root, "new_plan", athlete="T9")
    assert "younger than 14: growth only, no plan" in words_of(page.info[0].value)
    assert not page.button
    assert not page.number_input


def test_a_plan_is_made_for_an_athlete_who_may_have_one(camp_root, open_screen) -> None:
    page = open_screen(camp_root, "new_plan", athlete="T8")
    assert "of body mass a week" in text_of(page)
    page.text_input(key="new_plan_T8_guardian").set_value("Ilse Fenwood")
    page.text_input(key="new_plan_T8_who").set_value("Fen")
    page = press(page, "Save the plan")
    assert not page.error
    assert "Saved plan" in page.success[0].value
    build(camp_root)
    assert ask(camp_root, "select athlete_id, made_by from plan where plan_id <> 'P1'") == [("T8", "Fen")]


def test_a_hidden_mass_is_nowhere_on_the_plan_screens(own_root, open_screen) -> None:
    page = open_screen(own_root, "plan", plan="P1")
    page.text_input(key="plan_hide_who_T1").set_value("Fen")
    press(page, "Hide their mass")
    for name in ("plans", "plan"):
        text = text_of(open_screen(own_root, name, plan="P1"))
        assert "hidden at the athlete's wish" in text.replace("&#x27;", "'")
        assert " lb" not in text.replace("lb/wk", "")


def test_an_unknown_plan_is_said_to_be_unknown(own_root, open_screen) -> None:
    assert "No plan with the id" in open_screen(own_root, "plan", plan="nobody").warning[0].value


def test_the_board_can_be_put_in_other_orders_but_never_by_mass(demo_root, open_screen) -> None:
    page = open_screen(demo_root, "plans")
    assert not any("mass" in option.lower() for option in page.selectbox(key="plans_order").options)
    page.selectbox(key="plans_order").set_value("name").run()
    links = [one.proto.label for one in links_of(page) if "plan=" in one.proto.query_string]
    assert len(links) == 30
    assert links == sorted(links)


def test_a_far_start_is_asked_back_on_the_form_and_the_form_stands_empty_after_saving(
    camp_root, open_screen
) -> None:
    page = open_screen(camp_root, "new_plan", athlete="T8")
    field = page.number_input(key="new_plan_T8_start_lb")
    field.set_value(field.value + 9.0).run()
    assert "above the trend of the weigh-ins" in words_of(page.radio(key="new_plan_T8_which").label)
    assert not [button for button in page.button if button.label == "Save the plan"]
    page.radio(key="new_plan_T8_which").set_value("the trend").run()
    page.text_input(key="new_plan_T8_guardian").set_value("I")
    page.text_input(key="new_plan_T8_who").set_value("Fen")
    page = press(page, "Save the plan")
    assert "'I' is no name" in words_of(page.error[0].value)
    page.text_input(key="new_plan_T8_guardian").set_value("Ilse Fenwood")
    page = press(page, "Save the plan")
    assert "Saved plan" in page.success[0].value
    assert page.selectbox[-1].value is None
    assert not page.number_input
    page.selectbox[-1].set_value("T8").run()
    assert "Is this its next version?" in words_of(page.radio[-1].label)
    page.radio[-1].set_value("yes").run()
    assert not [one for one in page.text_input if one.value == "Ilse Fenwood"]
    assert page.number_input


def test_a_minor_is_never_offered_to_eat_less(own_root, open_screen) -> None:
    offered = open_screen(own_root, "plan", plan="P1").radio(key="plan_decide_P1_what").options
    assert "Slow the gain, with the dietitian" in offered
    assert not any("ower intake" in one for one in offered)
