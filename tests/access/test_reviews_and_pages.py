"""The camp review, the focus and the family page as each role: own camps only, own actions only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from latewood.dashboard.actions import (
    case_actions,
    family_actions,
    focus_actions,
    review_actions,
    test_day_actions,
    video_actions,
)
from latewood.dashboard.reads import review_reads, warehouse
from latewood.dashboard.reads.rows import Build, Stay
from latewood.pipeline.access import AT_THE_MACHINE
from latewood.pipeline.errors import ForbiddenError, SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY
from latewood.pipeline.ingest.logs import case_words, focus, videos
from latewood.pipeline.pages.handout import Handout
from tests.access.conftest import GIVEN
from tests.access.looking import Open, everything
from tests.access.test_reads import works, written
from tests.two_camps import viewer_of

ROLES = ("director", "strength_coach", "performance_coach", "data_steward")
UNTIL = date(2032, 11, 20)
OF_L = review_reads.ReviewChoice(camp_id="L", units="us")
YEARS_OF_L = review_reads.YearsChoice(camps=("L",), units="us")
AIM = focus_actions.FocusDraft(text="Stay tall.", measure="exit_speed", review_on=UNTIL)
WORDS = case_words.NewWords(athlete_id="T2", stay_id="T2@L", part="next", text="Stay tall.")

FILM = videos.NewVideo(
    athlete_id="T2", measured_on=date(2032, 10, 20), trial=1, text="swing.mp4", seconds=1.5
)


def stay_of_t2(build: Build) -> Stay:
    """The stay as the person at the machine sees it, so that the action alone has to refuse."""
    full = replace(build, opened_by=AT_THE_MACHINE)
    return next(one for one in warehouse.stays(full) if one.athlete_id == "T2")


READS: dict[str, tuple[set[str], Callable[[Build], object]]] = {
    "review": (
        {"director", "performance_coach"}, lambda build: review_reads.camp_review(build, OF_L),
    ),
    "camps over the years": (
        {"director", "performance_coach"}, lambda build: review_reads.camps_over_years(build, YEARS_OF_L),
    ),
    "focus": (
        {"director", "strength_coach", "performance_coach"},
        lambda build: focus_actions.focus_log(build, "T2"),
    ),
    "case": (
        {"director", "strength_coach", "performance_coach"},
        lambda build: case_actions.case_page(build, stay_of_t2(build), "us"),
    ),
    "film": ({"strength_coach", "performance_coach"}, lambda build: video_actions.noted(build, "T2")),
    "test days": (
        {"director", "performance_coach"}, lambda build: test_day_actions.tests_now(build, "L", "exit_speed"),
    ),
}  # fmt: skip
ACTIONS: dict[str, tuple[set[str], Callable[[Build], object]]] = {
    "export": (
        {"director"}, lambda build: review_actions.export_review(build, OF_L, "me", Handout(forms=["csv"])),
    ),
    "export of the years": (
        {"director"}, lambda build: review_actions.export_years(build, YEARS_OF_L, "me", Handout(forms=["csv"])),
    ),
    "roster": (
        {"director"}, lambda build: review_actions.export_roster(build, "L", "me", Handout(forms=["xlsx"])),
    ),
    "write": (
        {"performance_coach"},
        lambda build: focus_actions.write_focus(build, "T2", AIM, "me"),
    ),
    "page": (
        {"director", "performance_coach"},
        lambda build: family_actions.family_page(build, "T2", "me", Handout(forms=["html"]), "us"),
    ),
    "words": (
        {"strength_coach", "performance_coach"},
        lambda build: case_actions.write_words(build, stay_of_t2(build), WORDS, "me"),
    ),
    "case": (
        {"director", "strength_coach", "performance_coach"},
        lambda build: case_actions.print_case(build, stay_of_t2(build), "me", "us", "letter"),
    ),
    "case for the family": (
        {"director", "performance_coach"},
        lambda build: case_actions.print_for_family(build, stay_of_t2(build), "me", "us", "letter"),
    ),
    "film": (
        {"strength_coach", "performance_coach"}, lambda build: video_actions.note(build, FILM, "me"),
    ),
    "withdraw": ({"director"}, lambda build: family_actions.withdraw(build, "T2", "me")),
}  # fmt: skip


@pytest.fixture
def willing(own_camps):
    consent_book.record(own_camps, replace(GIVEN, purpose=FAMILY), "Dana")
    return own_camps


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", READS)
def test_reviews_and_the_focus_are_read_by_their_roles_only(name, role, data_folder) -> None:
    able, read = READS[name]
    assert works(read, warehouse.published(viewer_of(role))) == (role in able)


@pytest.mark.parametrize("name", READS)
def test_reviews_and_the_focus_of_another_camp_are_refused(name, data_folder) -> None:
    able, read = READS[name]
    for role in able:
        assert works(read, warehouse.published(viewer_of(role, camps={"L"})))
        with pytest.raises(ForbiddenError, match="not among those your role covers"):
            read(warehouse.published(viewer_of(role, camps={"K"})))


def test_a_review_once_made_for_the_director_is_not_handed_to_others(data_folder) -> None:
    review_reads.camp_review(warehouse.published(viewer_of("director")), OF_L)
    with pytest.raises(ForbiddenError):
        review_reads.camp_review(warehouse.published(viewer_of("performance_coach", camps={"K"})), OF_L)


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("action", ACTIONS)
def test_pages_and_the_focus_are_made_by_their_roles_and_signed(action, role, willing) -> None:
    able, act = ACTIONS[action]
    before = written(willing)
    build = warehouse.published(viewer_of(role))
    if role not in able:
        with pytest.raises(ForbiddenError, match="your role is"):
            act(build)
        assert written(willing) == before
        return
    act(build)
    added = b"".join(text[len(before.get(name, b"")) :] for name, text in written(willing).items())
    assert b"Sage Fenwick <sage@example.org>" in added
    assert b'"me"' not in added


@pytest.mark.parametrize("action", ACTIONS)
def test_no_page_and_no_focus_reaches_an_athlete_of_another_camp(action, willing) -> None:
    able, act = ACTIONS[action]
    before = written(willing)
    for role in able:
        with pytest.raises(ForbiddenError, match="not among those your role covers"):
            act(warehouse.published(viewer_of(role, camps={"K"})))
    assert written(willing) == before


def test_the_case_of_a_stay_at_another_camp_is_refused_though_the_athlete_came_here_too(data_folder) -> None:
    stays = {s.stay_id: s for s in warehouse.stays(warehouse.published(AT_THE_MACHINE))}
    build = warehouse.published(viewer_of("performance_coach", camps={"L"}))
    assert case_actions.case_page(build, stays["T3@L"], "us").facts.startswith("Fen camp")
    with pytest.raises(ForbiddenError, match="not among those your role covers"):
        case_actions.case_page(build, stays["T3@K"], "us")


def test_the_version_for_outsiders_is_the_directors_to_hand_out(data_folder, opened: Open) -> None:
    def act(build: Build) -> object:
        return review_actions.export_outside(build, OF_L, "me", Handout(forms=["csv"]))

    for role in set(ROLES) - {"director"}:
        with pytest.raises(ForbiddenError, match="your role is"):
            act(warehouse.published(viewer_of(role)))
    with pytest.raises(SummaryError, match="no measure has 8 athletes"):  # so few came to this camp
        act(warehouse.published(viewer_of("director")))
    whom = opened("camp_review", "director", camp="L").radio(key="review_whom")
    assert whom.value == "staff"
    assert any("nothing about fewer than 8 athletes" in words for words in whom.options)


def test_the_review_screen_of_another_camp_shows_nothing_of_it(data_folder, opened: Open) -> None:
    full = everything(opened("camp_review", "director", camps={"L"}, camp="K"))
    assert "Heath camp" not in full
    assert "Fernmoss" not in full
    assert "Fen camp" in everything(opened("camp_review", "director", camps={"L"}))


def test_the_focus_stands_on_the_athletes_page(willing, opened: Open, monkeypatch) -> None:
    monkeypatch.setenv("LATEWOOD_DATA", str(willing))  # the screens' own fixture has named the shared folder
    focus.write(
        willing,
        focus.NewFocus(
            athlete_id="T2", text="Stay tall over the front leg.", measure="exit_speed", review_on=UNTIL
        ),
        "Fen",
    )
    assert "Stay tall over the front leg." in everything(
        opened("athlete", "performance_coach", athlete="T2", section="review")
    )


def test_camps_over_the_years_holds_ones_own_camps_only(data_folder, opened: Open) -> None:
    both = review_reads.YearsChoice(camps=("K", "L"), units="us")
    with pytest.raises(ForbiddenError, match="not among those your role covers"):
        review_reads.camps_over_years(warehouse.published(viewer_of("director", camps={"L"})), both)
    with pytest.raises(ForbiddenError):  # no camp named would else be all camps
        review_reads.camps_over_years(
            warehouse.published(viewer_of("director", camps={"L"})), replace(both, camps=())
        )
    labels = [
        camp.label
        for camp in review_reads.camps_over_years(warehouse.published(viewer_of("director")), both).camps
    ]
    assert labels == ["Heath camp", "Fen camp"]


def test_targets_are_seen_and_set_in_ones_own_camps_only(willing) -> None:
    draft = focus_actions.FocusDraft(text="Stay tall.", measure="exit_speed", review_on=UNTIL, target=36.0)
    focus_actions.write_focus(warehouse.published(viewer_of("performance_coach")), "T2", draft, "me")
    for role, camps, seen in (
        ("director", {"L"}, {"T2"}), ("performance_coach", {"L"}, {"T2"}), ("director", {"K"}, set()),
    ):  # fmt: skip
        build = warehouse.published(viewer_of(role, camps=camps))
        assert {one.athlete_id for one in focus_actions.targets_of(build, ["T1", "T2"])} == seen
    with pytest.raises(ForbiddenError):
        focus_actions.targets_of(warehouse.published(viewer_of("data_steward")), ["T2"])
