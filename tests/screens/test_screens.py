"""Every screen on the demo, on an empty program and on one athlete: it runs, and says what it has to say."""

from __future__ import annotations

import re
from contextlib import closing
from pathlib import Path

import duckdb
import pytest
from streamlit.testing.v1 import AppTest

from latewood.dashboard.screens.registry import BY_KEY
from latewood.pipeline.warehouse.connection import open_published, published_path
from tests.conftest import NEW_MEASURE, SLED_READINGS, Camp
from tests.opening import links_of, open_folds, words_of


def text_of(page: AppTest) -> str:
    """All words on the page: Markdown, notices, headings and the text of its HTML."""
    pieces = [
        element.value for kind in (page.markdown, page.info, page.warning, page.header) for element in kind
    ]
    pieces += [element.value for element in page.subheader]
    pieces += [re.sub("<[^>]+>", " ", element.proto.body) for element in page.get("html")]
    return " ".join(pieces).replace("\u00a0", " ").replace("\\", "")


def ask(root: Path, sql: str) -> tuple:
    with closing(open_published(root)) as connection:
        result = connection.execute(sql).fetchone()
    assert result is not None
    return result


@pytest.mark.parametrize("screen", BY_KEY)
@pytest.mark.parametrize("data", ["demo_root", "empty_root", "one_root"])
def test_every_screen_runs(screen, data, request, open_screen) -> None:
    page = open_screen(request.getfixturevalue(data), screen)
    assert not page.exception
    assert not page.error
    assert page.header


def test_an_empty_program_says_which_files_to_import(empty_root, open_screen) -> None:
    for screen in ("cohorts", "athlete", "plans"):
        text = text_of(open_screen(empty_root, screen))
        assert "upload a roster, a camps and a stays file" in text
        assert "latewood " not in text  # nobody needs a terminal


@pytest.mark.parametrize(("version", "whose"), [(0, "an older Latewood"), (99, "a newer Latewood")])
def test_results_of_another_version_are_made_anew_by_a_press(own_root, open_screen, version, whose) -> None:
    with duckdb.connect(str(published_path(own_root))) as connection:
        connection.execute("update warehouse_version set version = ?", [version])
    for screen in ("monday", "athlete", "data"):
        page = open_screen(own_root, screen)
        assert not page.error
        assert not page.exception
        text = text_of(page)
        assert f"made by {whose}" in text
        assert "latewood build" not in text
        assert "Nothing is built yet" not in text
    page.button(key="data_rebuild").click().run()
    assert f"made by {whose}" not in text_of(page)
    assert ask(own_root, "select count(*) from reading") > (0,)


def test_invented_data_is_marked_on_every_screen(demo_root, open_screen) -> None:
    for screen in BY_KEY:
        assert "Invented data" in text_of(open_screen(demo_root, screen))


def test_a_deep_link_opens_one_athlete_with_a_verdict(one_root, open_screen) -> None:
    text = text_of(open_screen(one_root, "athlete", athlete="T1", section="all"))
    assert "Arlo Fernmoss" in text
    assert "Clear gain" in text
    assert "6 sessions, 2 Jun to 6 Aug 2032" in text
    assert "mph" in text


def test_an_unknown_athlete_is_said_to_be_unknown(demo_root, open_screen) -> None:
    page = open_screen(demo_root, "athlete", athlete="nobody")
    assert "No athlete with the id “nobody”" in page.warning[0].value


def test_the_numbers_of_the_warehouse_reach_the_athlete_screen(one_root, open_screen) -> None:
    change, low, high = ask(one_root, "select change, low, high from trend where measure = 'exit_speed'")
    text = text_of(open_screen(one_root, "athlete", athlete="T1", section="all"))
    shown = [f"{abs(value) / 0.44704:.1f}" for value in (change, low, high)]
    assert f"+{shown[0]} mph" in text
    assert f"(+{shown[1]} to +{shown[2]})" in text


def test_the_units_switch_changes_every_number_and_no_stored_one(one_root, open_screen) -> None:
    page = open_screen(one_root, "athlete", athlete="T1", section="all")
    page.button_group(key="app_units").set_value("metric").run()
    assert not page.exception
    text = text_of(page)
    assert "km/h" in text
    assert " kg" in text
    assert not re.search(r"\d (mph|lb|in)\b(?! 10 )", text)  # "about 1 in 10" is no length
    assert ask(one_root, "select unit from measure where measure = 'exit_speed'") == ("m/s",)


def test_the_plan_board_names_status_chance_and_false_alarms(one_root, open_screen) -> None:
    text = text_of(open_screen(one_root, "plans"))
    assert "1 active plan" in text
    assert "would still raise an alarm" in text
    assert "talk with a doctor or a dietitian" in text
    assert re.search(r"lb/wk\s+\(", text)


def test_the_demo_board_puts_decisions_first(demo_root, open_screen) -> None:
    waiting, n = ask(
        demo_root,
        "select count(*) filter (needs_decision or table_row in ('0', '1', '6', '7', '8', '9')), count(*) "
        "from plan_review join plan_advice using (plan_id)",
    )
    page = open_screen(demo_root, "plans")
    heads = [words_of(one.value) for one in page.subheader]
    assert heads == [f"Whom to talk to first: {waiting}", f"Nothing to decide now: {n - waiting}"]
    rows = [one.proto.body for one in page.get("html") if '<div class="lw-plan">' in one.proto.body]
    assert len(rows) == n
    assert all(body.count("<img") == 1 and "lb/wk" in body for body in rows)


def test_a_search_on_the_plan_board_leaves_the_plans_of_that_name(demo_root, open_screen) -> None:
    page = open_screen(demo_root, "plans")
    page.text_input(key="plans_find").set_value("eelgr").run()
    assert not page.exception
    links = [one.proto.label for one in links_of(page) if "plan=" in one.proto.query_string]
    assert links == ["Tomislav Eelgrass"]
    assert "1 plan of 30 for “eelgr”." in text_of(page)
    page.text_input(key="plans_find").set_value("nobody *of* that name").run()
    assert "0 plans of 30 for “nobody *of* that name”." in text_of(page)


def test_cohort_counts_on_screen_are_those_of_the_warehouse(demo_root, open_screen) -> None:
    camp, enrolled, measured, leavers = ask(
        demo_root,
        "select camp_id, n_enrolled, n_measured, n_left_early from cohort_gain where verdict = 'estimated' and "
        "measure = 'exit_speed' and n_left_early > 0 order by camp_id, n_measured desc",
    )
    text = text_of(open_screen(demo_root, "cohorts", camp=camp))
    assert f"{enrolled} enrolled, {measured} measured" in text
    assert f"{'×' * leavers} {leavers} left early" in text


def test_behind_a_number_stand_its_athletes(demo_root, open_screen) -> None:
    camp, measure, line, n = ask(
        demo_root,
        "select camp_id, measure, line, count(*) from trend where measure = 'exit_speed' group by all "
        "order by count(*) desc, camp_id",
    )
    page = open_screen(demo_root, "behind", camp=camp, measure=f"{measure}|{line}")
    text = text_of(page)
    assert f"{n} athletes:" in text
    assert "By luck alone" in text
    assert len(links_of(page)) == n + 1
    assert len(page.get("vega_lite_chart")) == 2


def test_charts_carry_a_text_alternative(one_root, open_screen) -> None:
    page = open_screen(one_root, "athlete", athlete="T1", section="all")
    charts = page.get("vega_lite_chart")
    assert charts
    assert all(chart.proto.alt for chart in charts)


def test_no_page_of_the_demo_says_cause(demo_root, open_screen) -> None:
    athlete = ask(demo_root, "select athlete_id from athlete_link where verdict = 'estimated' order by 1")[0]
    page = open_folds(open_screen(demo_root, "athlete", athlete=athlete, section="all"))
    text = text_of(page).replace("not what caused what", "").lower()
    assert "goes with" in text
    assert not re.search(r"\b(caused|because of|due to|thanks to)\b", text)


def test_a_measure_added_by_one_entry_has_its_verdict_on_the_screen(camp: Camp, open_screen) -> None:
    (camp.root / "measures.toml").write_text(NEW_MEASURE, encoding="utf-8")
    camp.take("sled.csv", SLED_READINGS)
    text = text_of(open_screen(camp.root, "athlete", athlete="T1", section="all"))
    assert "Sled push, 20 yd" in text
    assert "Clear gain" in text


def test_cohorts_tell_what_goes_with_mass_and_strength_in_all_camps(demo_root, open_screen) -> None:
    page = open_folds(open_screen(demo_root, "cohorts"))
    text = text_of(page)
    assert any("What goes with added mass" in one.label for one in page.expander)
    assert "an athlete added in Trap-bar deadlift" in text
    assert "at equal time in the program" in text
    assert "cause" not in text.split("All camps together, each athlete")[1].split("not what caused what")[0]


def test_an_athlete_page_describes_strength_for_body_size(demo_root, open_screen) -> None:
    result = ask(
        demo_root,
        "select athlete_id from relative_strength where verdict = 'shown' order by stay_id desc limit 1",
    )
    page = open_screen(demo_root, "athlete", athlete=result[0], section="account")
    assert "For body size" not in text_of(page)
    text = text_of(open_folds(page))
    assert "For body size" in text
    assert "nobody is ranked by it" in text


def test_a_projection_is_drawn_over_time_once_a_measure_is_picked(demo_root, open_screen) -> None:
    ahead = (
        "select athlete_id from projection where kind = 'date' and verdict <> 'refused' order by stay_id desc"
    )
    page = open_screen(demo_root, "athlete", athlete=ask(demo_root, ahead)[0], section="ahead")
    drawn = len(page.get("vega_lite_chart"))
    picker = page.selectbox(key="athlete_fan")
    assert picker.value is None
    picker.set_value(picker.options[0]).run()
    assert not page.exception
    charts = page.get("vega_lite_chart")
    assert len(charts) == drawn + 1
    assert all(chart.proto.alt for chart in charts)


def test_the_roster_folds_away_those_without_anything_clear(demo_root, open_screen) -> None:
    (camp,) = ask(demo_root, "select max(camp_id) from stay")
    page = open_screen(demo_root, "athlete", camp=camp)
    clear = len(links_of(page))
    (there,) = ask(demo_root, f"select count(*) from stay where camp_id = '{camp}'")
    assert 0 < clear < there
    assert f"Nothing clear so far: {there - clear} athletes" in [fold.label for fold in page.expander]
    page.session_state[f"athlete_others_of_{camp}"] = True
    assert len(links_of(page.run())) == there


def test_a_long_roster_comes_in_portions(demo_root, open_screen, monkeypatch) -> None:
    (camp,) = ask(demo_root, "select max(camp_id) from stay")
    clear = len(links_of(open_screen(demo_root, "athlete", camp=camp)))
    assert clear > 2
    monkeypatch.setattr("latewood.dashboard.screens.parts.PORTION", 2)
    page = open_screen(demo_root, "athlete", camp=camp)
    observed = [2]
    while more := [button for button in page.button if button.label.startswith("List ")]:
        assert len(links_of(page)) == observed[-1]
        assert more[0].label == f"List {min(2, clear - observed[-1])} more"
        observed.append(min(observed[-1] + 2, clear))
        page = more[0].click().run()
        assert not page.exception
    assert len(links_of(page)) == observed[-1] == clear


def test_a_roster_with_nothing_clear_stands_open(one_root, open_screen) -> None:
    page = open_screen(one_root, "athlete")
    (there,) = ask(one_root, "select count(*) from stay")
    assert len(links_of(page)) == there


def test_cohorts_set_all_camps_beside_each_other_and_hand_out_the_page(demo_root, open_screen) -> None:
    page = open_folds(open_screen(demo_root, "cohorts"))
    text = text_of(page)
    for words in (
        "Camps over the years",
        "5: family 3 and school 2",
        "18 of 34",
        "Not comparable, never joined.",
    ):
        assert words in text, words
    assert page.radio(key="years_whom").value == "staff"


def test_the_camp_review_hands_out_a_roster_for_staff(demo_root, open_screen) -> None:
    page = open_screen(demo_root, "camp_review", camp="F")
    assert list(page.multiselect(key="roster_forms").options) == ["One page (PDF)", "Tables (Excel)"]
    assert not [one for one in page.radio if one.key == "roster_whom"]


def test_a_target_stands_beside_what_was_tested_for_it(demo_root, open_screen) -> None:
    line = "sprint_30yd|timing=electronic; start=first motion; surface=turf"
    page = open_folds(open_screen(demo_root, "behind", camp="F", measure=line))
    assert "Targets: 1 not due" in [fold.label for fold in page.expander]
    assert "3.80 s by 22 Aug 2033. Not due: 3.84 s on 25 Jul 2033; chance" in text_of(page).replace(
        "\u00a0", " "
    )
