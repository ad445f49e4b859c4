"""The Monday screen in use: first visit, what became clear since, builds pruned, broken records, nothing to do."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from latewood.dashboard import signin
from latewood.pipeline.errors import CatalogueError
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.build.run import KEPT_BUILDS, build
from latewood.pipeline.ingest.build.settle import withdraw
from latewood.pipeline.ingest.logs import build_notes
from latewood.pipeline.ingest.people.visits import path_of
from tests.opening import links_of
from tests.screens.conftest import ask
from tests.screens.test_screens import text_of
from tests.typed import type_in

AT = 'name = "Heath"\ninvented = true\nclock = "{}"\n'


def clock(root: Path, day: str) -> None:
    (root / "program.toml").write_text(AT.format(day), encoding="utf-8")
    build(root)


def links(page) -> list[str]:
    return [one.proto.label.replace("\\", "") for one in links_of(page)]


def test_a_first_visit_says_so_and_lists_the_tests_of_the_week(own_root, open_screen) -> None:
    page = open_screen(own_root, "monday")
    text = text_of(page)
    assert "Tuesday 10 Aug 2032. No earlier visit of yours is known." in text
    assert "New since the last seven days" in text
    assert "1 athlete tested, 1 result" in text
    assert "From your next visit on" in text
    assert "Heath camp, 6 Aug" in links(page)
    assert not page.exception


def test_what_is_no_longer_clear_and_what_became_clear_is_told_with_its_reason(own_root, open_screen) -> None:
    open_screen(own_root, "monday")
    ((import_id,),) = ask(own_root, "select import_id from import where kind = 'readings'")
    withdraw(own_root, import_id, "Fen", "wrong camp")
    clock(own_root, "2032-08-11")
    text = text_of(open_screen(own_root, "monday"))
    assert "Your last visit was on Tuesday 10 Aug 2032." in text
    assert "1 no longer clear." in text
    assert "no session left" in text
    assert "Why: its data were taken out." in text
    restore(own_root, import_id)
    clock(own_root, "2032-08-12")
    page = open_screen(own_root, "monday")
    text = text_of(page)
    assert "1 gain became clear." in text
    assert "Clear gain" in text
    assert re.search(r"Exit speed \(.*\): \+\d+\.\d mph \(\+\d+\.\d to \+\d+\.\d\), 6 sessions", text)
    assert "Why: new data (6 days up to 6 Aug)." in text
    assert "of this 1 change would look clear" in text
    assert "Arlo Fernmoss" in links(page)


def restore(root: Path, import_id: str) -> None:
    (landed,) = root.glob(f"landing/*/{import_id}.json")
    (file,) = [one for one in landed.parent.iterdir() if one.suffix == ".csv"]
    import_files(root, [file], "Fen")


def test_conclusions_outlive_the_builds_they_came_from(own_root, open_screen) -> None:
    open_screen(own_root, "monday")
    first = ask(own_root, "select build_id from build_log")[0][0]
    for day in range(11, 13 + KEPT_BUILDS):
        clock(own_root, f"2032-08-{day}")
    assert not list((own_root / "warehouse").glob(f"build-{first}-*.duckdb"))
    text = text_of(open_screen(own_root, "monday"))
    assert "New since 10 Aug" in text
    assert "no longer kept" not in text
    assert "No change became clear" in text


def test_looking_twice_on_a_day_does_not_empty_the_list(own_root, open_screen) -> None:
    open_screen(own_root, "monday")
    clock(own_root, "2032-08-12")
    for _ in range(2):
        assert "Your last visit was on Tuesday 10 Aug 2032." in text_of(open_screen(own_root, "monday"))


def test_a_broken_record_is_no_visit_known_and_said(own_root, open_screen) -> None:
    open_screen(own_root, "monday")
    path_of(own_root, "the person at the machine").write_text("{", encoding="utf-8")
    clock(own_root, "2032-08-12")
    text = text_of(open_screen(own_root, "monday"))
    assert "No earlier visit of yours is known." in text
    assert "The record of your last visit cannot be read" in text


def test_missing_conclusions_are_said(own_root, open_screen) -> None:
    open_screen(own_root, "monday")
    for path in (own_root / "conclusions").glob("*.gz"):
        path.unlink()
    clock(own_root, "2032-08-12")
    assert "what stood here on 10 Aug is no longer kept" in text_of(open_screen(own_root, "monday"))


def test_a_plan_without_a_weigh_in_for_a_week_leads_to_the_scale_until_one_is_typed(
    own_root, open_screen
) -> None:
    clock(own_root, "2032-08-12")
    last = ask(own_root, "select max(as_of) from plan_review")[0][0]
    assert last.isoformat() == "2032-08-09"
    assert "No weigh-in for 7 days" not in text_of(open_screen(own_root, "monday"))
    withdraw(
        own_root, ask(own_root, "select import_id from import where kind = 'readings'")[0][0], "Fen", "x"
    )
    build(own_root)
    page = open_screen(own_root, "monday")
    assert "No weigh-in for 7 days" in text_of(page)
    assert "Arlo Fernmoss (never since 72 days)" in links(page)
    type_in(
        own_root, by="Fen", athlete_id="T1", measure="body_mass", measured_on=last.replace(day=12), value="74",
        unit="kg",
    )  # fmt: skip
    assert "No weigh-in for 7 days" not in text_of(open_screen(own_root, "monday"))


def test_a_missed_test_day_of_the_calendar_is_one_line_with_its_links(
    own_root, tmp_path, open_screen
) -> None:
    file = tmp_path / "camps.csv"
    file.write_text(
        "camp_id,label,starts_on,ends_on,time_zone,place,test_days\n"
        "K,Heath camp,2032-06-01,2032-08-15,America/Chicago,F,2032-06-02;2032-08-09;2032-08-14\n"
    )
    assert "calendar" not in text_of(open_screen(own_root, "monday"))
    assert "its camps file states no test days" in text_of(open_screen(own_root, "monday"))
    import_files(own_root, [file], "Fen")
    page = open_screen(own_root, "monday")
    text = text_of(page)
    assert "Not tested since the test day of 9 Aug, Heath camp" in text
    assert "Heath camp: the next test day is Saturday 14 Aug 2032." in text
    assert "its camps file states no test days" not in text
    assert {"Enter results", "Athletes of Heath camp"} <= set(links(page))


def test_a_steward_with_nothing_to_do_is_told_so(own_root, open_screen) -> None:
    page = open_screen(own_root, "monday")
    page.selectbox(key=signin.PREVIEW).set_value("data_steward").run()
    assert not page.exception
    text = text_of(page)
    assert (
        "Nothing to do: every withdrawal of consent fits an athlete, no row is held and the results are up to date."
        in text
    )
    assert "Arlo" not in text


def test_a_failed_build_shows_until_a_good_one(own_root, open_screen) -> None:
    settings = own_root / "program.toml"
    good = settings.read_text(encoding="utf-8")
    settings.write_text(good + "oops = 1\n", encoding="utf-8")
    with pytest.raises(CatalogueError):
        build(own_root)
    settings.write_text(good + "# corrected\n", encoding="utf-8")
    text = text_of(open_screen(own_root, "monday"))
    assert "Build that failed" in text
    assert "program.toml, oops: no such field" in text
    assert "Something waits for a build" in text
    build(own_root)
    assert build_notes.failed_builds(own_root) == ()
    assert "Build that failed" not in text_of(open_screen(own_root, "monday"))


def test_where_nothing_was_ever_built_the_files_to_import_are_named(empty_root, open_screen) -> None:
    page = open_screen(empty_root, "monday")
    assert not page.exception
    assert "upload a roster, a camps and a stays file" in text_of(page)
    assert not (empty_root / "visits").exists()


def test_a_first_build_that_failed_is_told_where_nothing_is_built(tmp_path, open_screen) -> None:
    root = tmp_path / "data"
    (root / "warehouse").mkdir(parents=True)
    with pytest.raises(CatalogueError), build_notes.noted(root):
        raise CatalogueError("measures.toml, exit_speed: no unit")
    page = open_screen(root, "monday")
    assert "The last build failed: measures.toml, exit_speed: no unit" in text_of(page)
