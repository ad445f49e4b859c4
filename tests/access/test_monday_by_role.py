"""The Monday screen as each role and for camps of one's own: nothing of another camp, nothing of another's work."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from latewood.dashboard.reads import monday_reads, warehouse
from latewood.dashboard.screens.registry import SCREENS
from latewood.dashboard.views.monday.monday import concerns
from latewood.dashboard.views.monday.monday_lines import GAINS, RESULTS
from latewood.pipeline.access import ROLES
from latewood.pipeline.errors import ForbiddenError
from latewood.pipeline.ingest.logs import build_notes, conclusions
from latewood.pipeline.ingest.people import visits
from tests.access.looking import NAMES, everything
from tests.two_camps import viewer_of

STAFF = {"director", "strength_coach", "performance_coach", "data_steward"}
TODAY = date(2032, 10, 20)


def test_the_screen_is_the_staffs_and_of_nobody_else() -> None:
    assert {role.key for role in ROLES.values() if "monday" in role.screens} == STAFF
    assert SCREENS[0].key == "monday"


def all_of(page) -> str:
    """Everything sent, with the words of notices and headings, which the tester does not print."""
    beside = [one.value for kind in (page.info, page.warning, page.subheader) for one in kind]
    return f"{everything(page)} {' '.join(beside)}".replace("\\", "")


@pytest.mark.parametrize("role", sorted(STAFF))
def test_it_is_the_first_screen_of_each_role(role: str) -> None:
    assert viewer_of(role).screens[0] == "monday"


def test_a_coach_of_one_camp_sees_only_that_camps_athletes_wait(opened) -> None:
    full = all_of(opened("monday", "strength_coach", camps={"L"}))
    assert "Bram Siltwood (20 days)" in full
    assert "Fernmoss" not in full
    assert "Heath camp" not in full
    other = all_of(opened("monday", "strength_coach", camps={"K"}))
    assert "Siltwood" not in other
    assert "Nothing to do" in other


def test_a_steward_sees_held_rows_and_no_athlete(opened) -> None:
    full = all_of(opened("monday", "data_steward"))
    assert "Held rows in 2 questions" in full
    assert not any(name in full for name in NAMES)
    assert "plans to decide" not in full


def test_a_coach_sees_on_a_first_visit_who_changed_and_whose_values_wait_in_their_camps_only(opened) -> None:
    full = all_of(opened("monday", "performance_coach", camps={"L"}))
    for title in (
        "Better",
        "Worse",
        "One more test would settle it",
        "Unusable values",
        "No test this month",
    ):
        assert title in full
    assert "Fernmoss" not in full
    assert "Unusable values" not in all_of(opened("monday", "data_steward"))


def test_values_that_wait_are_bounded_to_ones_camps(visited: Path) -> None:
    for camps in ({"L"}, {"K"}):
        result = gathered("performance_coach", camps=camps)
        assert {one.camp_id for one in (*result.unusable, *result.tested)} <= camps
        assert {one.athlete_id for one in result.retests} <= ({"T2", "T3"} if camps == {"L"} else {"T1"})


def test_coaches_and_director_see_no_held_row(opened) -> None:
    for role in STAFF - {"data_steward"}:
        assert "Held rows" not in all_of(opened("monday", role))


@pytest.fixture
def visited(own_camps: Path) -> Path:
    """Sage looked a week ago, when no change of anybody was clear and no session of October's camp was known."""
    build = warehouse.published(viewer_of("director"))
    now = conclusions.conclude(own_camps, build.build_id)
    trends = tuple(
        replace(one, sessions=one.sessions[:2], verdict="too few sessions", n_sessions=2)
        for one in now.trends
    )
    visits.note_visit(own_camps, "sage@example.org", date(2032, 10, 13), "a" * 16)
    conclusions.keep(own_camps, replace(now, build_id="a" * 16, trends=trends))
    return own_camps


def gathered(*roles: str, camps: set[str] | None = None):
    viewer = viewer_of(*roles, camps=camps)
    return monday_reads.gather(warehouse.published(viewer), TODAY, concerns(viewer))


def test_conclusions_of_both_builds_are_bounded_to_ones_camps(visited: Path) -> None:
    everywhere, one_camp = gathered("performance_coach"), gathered("performance_coach", camps={"L"})
    assert {one.camp_id for one in everywhere.now.trends} == {"K", "L"}
    for result in (one_camp.now, one_camp.then):
        assert {one.camp_id for one in result.trends} == {"L"}
        assert {one.athlete_id for one in result.trends} == {"T2", "T3"}
    assert one_camp.then.plans == ()
    assert {one.plan_id for one in gathered("strength_coach", camps={"K"}).then.plans} == {"P1"}


def test_a_steward_gets_no_conclusion_and_may_not_ask(visited: Path) -> None:
    result = gathered("data_steward")
    assert (result.now.trends, result.then.trends, result.now.plans, result.tested, result.record) == (
        (),
        (),
        (),
        (),
        None,
    )
    build = warehouse.published(viewer_of("data_steward"))
    with pytest.raises(ForbiddenError, match="results of single athletes"):
        monday_reads.gather(build, TODAY, frozenset({RESULTS, GAINS}))


def test_the_reason_of_a_failed_build_reaches_the_steward_only(own_camps: Path, opened, monkeypatch) -> None:
    monkeypatch.setenv("LATEWOOD_DATA", str(own_camps))
    with pytest.raises(ForbiddenError), build_notes.noted(own_camps):
        raise ForbiddenError("Arlo Fernmoss.csv, line 3: wrong")
    steward = all_of(opened("monday", "data_steward"))
    assert "Arlo Fernmoss.csv, line 3: wrong" in steward
    coach = all_of(opened("monday", "performance_coach", camps={"L"}))
    assert "Build that failed" in coach
    assert "Fernmoss" not in coach
    assert "Build that failed" not in all_of(opened("monday", "director"))


def test_what_is_new_shows_names_of_ones_own_camp_only(visited: Path, opened, monkeypatch) -> None:
    monkeypatch.setenv("LATEWOOD_DATA", str(visited))
    full = all_of(opened("monday", "performance_coach", camps={"L"}))
    assert "New since 13 Oct" in full
    assert "Fen camp, 16 Sep" in full
    assert "Fernmoss" not in full
    assert "Jun" not in full.replace("Juni", "")
