"""A screen that stays open: every read and action asks who looks at that moment, not when the page was drawn."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from types import ModuleType
from unittest.mock import MagicMock

import pytest
from streamlit.testing.v1 import AppTest

from latewood.dashboard import signin
from latewood.dashboard.actions import (
    family_actions,
    focus_actions,
    plan_actions,
    review_actions,
    steward_actions,
    summary_actions,
)
from latewood.dashboard.reads import rows, warehouse
from latewood.pipeline.access import Viewer
from latewood.pipeline.errors import ForbiddenError, SignInError
from latewood.pipeline.ingest.logs import entered
from latewood.pipeline.ingest.people.staff import admit, parse_staff
from tests.two_camps import viewer_of

MODULES = (steward_actions, summary_actions, family_actions, focus_actions, plan_actions, review_actions)
TODAY = date(2032, 10, 20)
COACH = '[[people]]\nemail = "sage@example.org"\nname = "Sage"\nroles = ["strength_coach"]\n'


def actions_of(module: ModuleType) -> list[Callable[..., object]]:
    """Every public function of a module that is given somebody: a build opened by them, or the viewer."""
    result = [f for _, f in inspect.getmembers(module, inspect.isfunction) if f.__module__ == module.__name__]
    return [
        f
        for f in result
        if f.__name__[0] != "_" and {"build", "viewer"} & set(inspect.signature(f).parameters)
    ]


ALL = [one for module in MODULES for one in actions_of(module)]


def gone() -> Viewer:
    raise SignInError("you have signed out; sign in again")


def call(action: Callable[..., object], build: rows.Build) -> object:
    given = {"build": build, "viewer": build.opened_by}
    needed = [
        one for one in inspect.signature(action).parameters.values() if one.default is inspect.Parameter.empty
    ]
    return action(**{one.name: given.get(one.name, MagicMock()) for one in needed})


@pytest.mark.parametrize("action", ALL, ids=lambda f: f"{f.__module__}.{f.__name__}")
def test_every_deed_refuses_whoever_is_out_by_now(action, own_camps) -> None:
    everything_held = viewer_of("director", "strength_coach", "performance_coach", "data_steward")
    build = warehouse.published(everything_held)
    before = {p: p.stat().st_mtime_ns for p in own_camps.rglob("*") if p.is_file()}
    with pytest.raises(SignInError, match="signed out"):
        call(action, replace(build, opened_by=replace(everything_held, again=gone)))
    assert {p: p.stat().st_mtime_ns for p in own_camps.rglob("*") if p.is_file()} == before


def test_the_deeds_are_all_there() -> None:
    assert len(ALL) >= 25
    for module in MODULES:  # what takes neither build nor viewer does nothing to the data folder
        rest = set(dict(inspect.getmembers(module, inspect.isfunction)).values()) - set(actions_of(module))
        own = [f for f in rest if f.__module__ == module.__name__]
        assert not [f.__name__ for f in own if "data_dir()" in inspect.getsource(f)]


def test_a_read_of_a_kept_build_asks_anew(data_folder) -> None:
    now = [viewer_of("performance_coach")]
    build = warehouse.published(replace(now[0], again=lambda: now[0]))
    assert warehouse.athlete_values(build, "T1")
    now[0] = viewer_of("data_steward")
    with pytest.raises(ForbiddenError):
        warehouse.athlete_values(build, "T1")
    now[0] = viewer_of("performance_coach", camps={"L"})
    with pytest.raises(ForbiddenError, match="not among those your role covers"):
        warehouse.athlete_values(build, "T1")


def test_the_list_of_people_as_it_is_at_the_deed_decides(own_camps) -> None:
    text, ended = [COACH], dict[str, float]()
    claims = {"email": "sage@example.org", "email_verified": True, "iat": 1000.0}

    def ask() -> Viewer:
        return replace(admit(parse_staff(text[0]), claims, 1001.0, ended), again=ask)

    build = warehouse.published(ask())

    def type_in() -> entered.TypedEntry:
        return plan_actions.enter(
            build,
            entered.TypedEntry(
                entry_id="", at="", by="", athlete_id="T2", measure="body_mass", measured_on=TODAY.isoformat(),
                value="72.6", unit="kg",
            ),
        )  # fmt: skip

    assert type_in().by == "Sage <sage@example.org>"
    text[0] = COACH.replace("strength_coach", "data_steward")
    with pytest.raises(ForbiddenError):
        type_in()
    text[0] = COACH.replace("sage@", "reed@")
    with pytest.raises(SignInError, match="not in the program's list"):
        type_in()
    text[0], ended["sage@example.org"] = COACH, 1000.0
    with pytest.raises(SignInError, match="signed out"):
        type_in()
    assert len(entered.current_entries(own_camps, TODAY)) == 2


def test_somebody_else_in_the_same_window_is_not_taken_for_the_first(data_folder) -> None:
    build = warehouse.published(
        replace(viewer_of("director"), again=lambda: replace(viewer_of("director"), email="x@y.org"))
    )
    with pytest.raises(SignInError, match="somebody else"):
        warehouse.athletes(build)


def test_whoever_comes_through_the_door_can_be_asked_again(data_folder) -> None:
    assert signin.viewer().again is signin.viewer


def test_a_fragment_says_what_was_refused_in_a_sentence() -> None:
    def page() -> None:
        from latewood.dashboard.screens import parts
        from latewood.pipeline.errors import SignInError

        @parts.fragment
        def part() -> None:
            raise SignInError("you have signed out; sign in again")

        part()

    run = AppTest.from_function(page, default_timeout=60).run()
    assert not run.exception
    assert ["signed out" in one.value for one in run.warning] == [True]
