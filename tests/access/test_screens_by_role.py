"""Screens as each role, opened by deep links: refused in plain words, with nothing of the data on the page."""

from __future__ import annotations

import pytest

from latewood.dashboard import signin
from latewood.dashboard.screens.registry import BY_KEY
from latewood.dashboard.text.wording import verbatim
from latewood.pipeline.access import AT_THE_MACHINE
from latewood.pipeline.errors import SignInError, StaffError
from tests.access.looking import NAMES, everything
from tests.opening import open_page

OPENS = {
    "director": {
        "monday",
        "cohorts",
        "camp_review",
        "behind",
        "athlete",
        "case",
        "compare",
        "plans",
        "plan",
        "summaries",
        "glossary",
    },
    "strength_coach": {
        "monday",
        "athlete",
        "case",
        "compare",
        "plans",
        "plan",
        "new_plan",
        "weighin",
        "glossary",
    },
    "performance_coach": {"monday", "cohorts", "behind", "athlete", "case", "compare", "weighin", "glossary"},
    "data_steward": {"monday", "data", "glossary"},
}


def test_every_screen_is_one_that_a_role_opens_and_there_is_no_other() -> None:
    assert set(AT_THE_MACHINE.screens) == set(BY_KEY)


@pytest.mark.parametrize("role", OPENS)
@pytest.mark.parametrize("screen", BY_KEY)
def test_a_role_opens_its_own_screens_only(role, screen, opened) -> None:
    page = opened(screen, role)
    refused = [one.value for one in page.warning if "not one of your role's" in one.value]
    assert bool(refused) == (screen not in OPENS[role])
    if refused:
        assert not any(name in everything(page) for name in NAMES)


def test_a_deep_link_to_an_athlete_of_another_camp_shows_nothing_of_him(opened) -> None:
    allowed = opened("athlete", "performance_coach", camps={"K"}, athlete="T1")
    assert "Arlo Fernmoss" in everything(allowed)
    page = opened("athlete", "performance_coach", camps={"L"}, athlete="T1")
    assert "your role does not cover their camp" in page.warning[0].value
    assert "Fernmoss" not in everything(page)
    assert not page.get("vega_lite_chart")


@pytest.mark.parametrize(
    ("screen", "query"),
    [
        ("cohorts", {"camp": "K"}),
        ("athlete", {"camp": "K"}),
        ("behind", {"camp": "K", "measure": "exit_speed|delivery=tee; bat=metal"}),
    ],
)
def test_a_deep_link_to_another_camp_shows_nothing_of_it(screen, query, opened) -> None:
    page = opened(screen, "performance_coach", camps={"L"}, **query)
    words = " ".join(one.value for one in (*page.warning, *page.info))
    assert "not among those your role covers" in words or "names no camp" in words
    assert "Heath camp" not in everything(page)
    assert "Fernmoss" not in everything(page)


def test_the_plan_board_of_another_camp_shows_nothing_of_it(opened) -> None:
    page = opened("plans", "strength_coach", camps={"L"}, camp="K")
    assert "not among those your role covers" in page.warning[0].value
    full = everything(opened("plans", "strength_coach", camps={"L"}))
    assert "Siltwood" in full
    assert "Fernmoss" not in full


def test_movement_observations_are_on_the_page_of_coaches_only(opened) -> None:
    observed = {
        role: "What coaches saw"
        in [one.value for one in opened("athlete", role, athlete="T1", section="all").subheader]
        for role in ("director", "strength_coach", "performance_coach")
    }
    assert observed == {"director": False, "strength_coach": True, "performance_coach": True}


SQL = (
    "T1'; drop table athlete; --",
    "T1' or '1'='1",
    "x' union select display_name from athlete --",
    "T1\"; attach '/etc/passwd' as p; --",
    "%",
    "T1\x00",
    "$athlete_id",
)


@pytest.mark.parametrize("text", SQL)
@pytest.mark.parametrize("key", ["athlete", "camp"])
def test_sql_in_a_deep_link_is_text_and_finds_nobody(text, key, opened) -> None:
    for screen, role in (
        ("athlete", "performance_coach"),
        ("cohorts", "director"),
        ("plans", "strength_coach"),
    ):
        page = opened(screen, role, **{key: text})
        assert not page.exception
        if (screen, key) not in {("cohorts", "athlete"), ("plans", "athlete")}:
            assert page.warning
    assert "Arlo Fernmoss" in everything(opened("athlete", "performance_coach", athlete="T1"))


@pytest.mark.parametrize("text", SQL)
def test_sql_in_the_measure_of_a_link_finds_nothing(text, opened) -> None:
    page = opened("behind", "director", camp="K", measure=f"exit_speed|{text}")
    assert not page.exception
    assert not page.get("vega_lite_chart")
    assert not any(name in everything(page) for name in NAMES)


def test_markdown_in_a_deep_link_is_shown_as_text(opened) -> None:
    page = opened("athlete", "performance_coach", athlete="![x](http://127.0.0.1/x.png)")
    assert "![x](" not in page.warning[0].value


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (SignInError("your sign-in has expired; sign in again"), "Your sign-in has expired; sign in again."),
        (
            StaffError("people.toml, entry 3 (sage@example.org), roles: wrong"),
            f"{signin.WRONG_LIST.capitalize()}.",
        ),
    ],
)
def test_whoever_is_not_let_in_gets_a_plain_page(error, said, opened, monkeypatch) -> None:
    def nobody() -> None:
        raise error

    opened("athlete", "director")  # fills the caches
    monkeypatch.setattr(signin, "viewer", nobody)
    page = open_page("athlete", athlete="T1")
    assert [one.value for one in page.warning] == [verbatim(said)]
    full = everything(page)
    assert not any(word in full for word in (*NAMES, "Heath", "example.org"))


def test_the_person_at_the_machine_may_look_as_a_role_sees_it(data_folder) -> None:
    page = open_page("athlete", athlete="T1", section="all")
    assert "What coaches saw" in [one.value for one in page.subheader]
    page.selectbox(key=signin.PREVIEW).set_value("director").run()
    assert "What coaches saw" not in [one.value for one in page.subheader]
