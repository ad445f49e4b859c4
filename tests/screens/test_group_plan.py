"""Plans for a group through one form: each with his or her own start, target and ceiling, each checked alone."""

from __future__ import annotations

from datetime import date

import pytest

from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.logs.planlog import read_log
from tests.opening import open_folds, words_of
from tests.screens.test_plan_screens import press
from tests.screens.test_screens import text_of

OTHERS = "athlete_id,name,birth_date,sex,sport\nT7,Ines Quarryfen,2015-02-01,female,softball\n"
STAYS = "athlete,camp,arrived_on,left_on,planned_until\nT7,K,2032-06-01,,2032-09-14\n"


@pytest.fixture
def group_root(camp_root, tmp_path):
    """T8 and T7 may have a plan, at different masses; T1 has one that runs, T9 is under 14."""
    mass = "athlete,measured_on,measure,value,unit,trial\n" + "".join(
        f"T7,2032-08-{day:02d},body_mass,{58 + 0.02 * day:.2f},kg,1\n" for day in range(1, 11)
    )
    mass += "".join(f"T8,2032-08-{day:02d},body_mass,{70.6 + 0.02 * day:.2f},kg,1\n" for day in range(1, 11))
    inbox = tmp_path / "more"
    inbox.mkdir()
    for name, text in (("others.csv", OTHERS), ("other_stays.csv", STAYS), ("other_mass.csv", mass)):
        (inbox / name).write_text(text)
    import_files(camp_root, [inbox], "tester")
    return camp_root


@pytest.fixture
def group(group_root, open_screen):
    page = open_screen(group_root, "new_plan")
    page.segmented_control(key="new_plan_kind").set_value("group").run()
    page.selectbox(key="plan_group_of").set_value("everybody").run()
    page.date_input(key="plan_group_on").set_value(date(2032, 9, 14)).run()
    assert not page.exception
    return page


def sign(page, **names: str):
    for athlete, name in names.items():
        page.text_input(key=f"plan_group_{athlete}_guardian").set_value(name)
    page.text_input(key="plan_group_who").set_value("Fen")
    return press(page, next(one.label for one in page.button if one.label.startswith("Save ")))


def test_each_has_own_start_target_and_ceiling_and_those_who_may_not_are_named_with_the_reason(group) -> None:
    text = words_of(text_of(group))
    assert "Ines Quarryfen: starts from 128." in text
    assert "Wim Saltreed: starts from 156." in text
    targets = {one.key.split("_")[2]: one.value for one in group.number_input if "_kg_lb" in one.key}
    # five weeks at 0.25 % of the own mass; Wim's stay ends after three
    assert set(targets) == {"T7", "T8"}
    assert targets["T7"] == pytest.approx(58.2 * (1 + 0.0025 * 5) * 2.20462, abs=0.4)
    assert targets["T8"] == pytest.approx(70.8 * (1 + 0.0025 * 3) * 2.20462, abs=0.4)
    out = words_of(text_of(open_folds(group)))
    assert "Noor Sandfen: younger than 14: growth only, no plan" in out
    assert "Arlo Fernmoss: has a plan that runs" in out


def test_plans_of_a_group_are_saved_one_by_one_each_with_own_masses(group, group_root) -> None:
    page = sign(group, T7="Ilse Quarryfen", T8="Bo Saltreed")
    assert not page.exception
    assert "Saved 2 plans: Ines Quarryfen, Wim Saltreed." in words_of(page.success[0].value)
    events = {one.athlete_id: one.facts for one in read_log(group_root)}
    assert set(events) == {"T7", "T8"}
    for facts in events.values():
        start, target = float(facts["start_mass"]), float(facts["target_mass"])
        weeks = (date.fromisoformat(facts["target_on"]) - date(2032, 8, 10)).days / 7
        assert target / start == pytest.approx(1 + 0.0025 * weeks, abs=1e-4)
    assert events["T7"]["approved_by"] == "guardian Ilse Quarryfen"
    out = words_of(text_of(open_folds(page)))
    assert "Ines Quarryfen: has a plan that runs" in out  # also before a build


def test_one_without_approval_is_left_with_its_reason_and_stops_nobody(group, group_root) -> None:
    page = sign(group, T7="Ilse Quarryfen")
    assert "Saved 1 plan: Ines Quarryfen." in words_of(page.success[0].value)
    assert "Wim Saltreed: this plan needs approval by the guardian" in words_of(page.warning[0].value)
    assert [one.athlete_id for one in read_log(group_root)] == ["T7"]


def test_a_target_above_the_own_ceiling_is_not_among_those_saved(group) -> None:
    field = next(one for one in group.number_input if "plan_group_T7" in one.key)
    field.set_value(field.value + 10).run()
    assert "above the ceiling of 0.5 %" in words_of(group.error[0].value)
    assert [one.label for one in group.button if one.label.startswith("Save ")] == ["Save 1 of 2 plans"]


def test_without_a_name_nothing_is_saved(group, group_root) -> None:
    group.text_input(key="plan_group_T7_guardian").set_value("Ilse Quarryfen")
    page = press(group, "Save 2 of 2 plans")
    assert "Saved no plan." in words_of(page.error[0].value)
    assert read_log(group_root) == ()
