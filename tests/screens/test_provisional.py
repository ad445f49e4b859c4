"""A typed weigh-in on every screen before a build holds it: marked, written nowhere, gone with the build."""

from __future__ import annotations

import hashlib
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from latewood.dashboard.reads import warehouse
from latewood.pipeline.access import AT_THE_MACHINE
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.logs.entered import TypedEntry, take_back
from latewood.pipeline.ingest.plans.typed_mass import NOTHING, TypedMass, typed_mass
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.warehouse.connection import open_published
from tests.typed import type_in

TODAY = date(2032, 8, 10)
FASTED = {"state": "fasted"}
MARK = "Provisional: Arlo Fernmoss with today"


def weigh(root: Path, kg: str, **given) -> TypedEntry:
    facts = {
        "athlete_id": "T1",
        "measure": "body_mass",
        "measured_on": TODAY,
        "unit": "kg",
        "conditions": FASTED,
    }
    return type_in(root, by="Sage", value=kg, **{**facts, **given})


def made_of(root: Path) -> TypedMass:
    with closing(open_published(root)) as connection:
        return typed_mass(root, connection, PlanSettings())


def hashes(root: Path) -> dict[str, str]:
    return {
        str(path.relative_to(root)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in root.rglob("*")
        if path.is_file() and path.suffix != ".lock"
    }


def shown(page) -> str:
    assert not page.exception
    return " ".join(one.proto.body for one in page.get("html") if "<style" not in one.proto.body)


SCREENS = (
    ("weighin", {}),
    ("monday", {}),
    ("plans", {}),
    ("plan", {"plan": "P1"}),
    ("athlete", {"athlete": "T1"}),
)


def test_every_screen_shows_the_mark_and_the_build_takes_it_away(own_root, open_screen) -> None:
    weigh(own_root, "74.2")
    made = made_of(own_root)
    for screen, query in SCREENS:
        page = open_screen(own_root, screen, **query)
        folds = [one.label for one in page.expander]
        assert "Provisional trends: 1" in folds if screen == "weighin" else MARK in shown(page), screen
    summary = build(own_root)
    for screen, query in SCREENS:
        text = shown(open_screen(own_root, screen, **query)).lower()
        assert "provisional" not in text, screen
        assert "shown before as" not in text, screen
    assert made_of(own_root) == NOTHING
    with closing(open_published(own_root)) as connection:
        rows = connection.execute(
            "select on_date, kg from mass_trend where stay_id = ?", [made.rows.mass[0].stay_id]
        )
        built = dict(rows.fetchall())
        (status,) = connection.execute("select status from plan_review").fetchone()
        (words,) = connection.execute("select words from plan_advice").fetchone()
    apart = [abs(built[one.on_date] - one.kg) for one in made.rows.mass]
    assert summary.unchanged is False
    assert max(built) == TODAY
    assert max(apart) < 0.01
    assert ([one.status for one in made.rows.reviews], [one.words for one in made.advice]) == (
        [status],
        [words],
    )


def test_the_fast_lane_writes_nothing(own_root, open_screen, monkeypatch) -> None:
    weigh(own_root, "74.2")
    open_screen(own_root, "plans")  # what a first visit keeps is kept
    before = hashes(own_root)
    assert made_of(own_root).typed
    for screen, query in SCREENS[2:]:
        assert "provisional" in shown(open_screen(own_root, screen, **query)).lower()
    assert hashes(own_root) == before


@pytest.mark.parametrize(
    "given", [{"conditions": {"state": "after food"}}, {"kg": "79.0"}, {"measured_on": date(2032, 8, 9)}]
)
def test_what_is_asked_about_or_set_aside_or_there_already_shows_no_trend(
    own_root, open_screen, given
) -> None:
    weigh(own_root, given.pop("kg", "74.2"), **given)
    assert made_of(own_root).rows == NOTHING.rows
    assert "provisional" not in shown(open_screen(own_root, "plans")).lower()


def test_a_value_taken_back_is_gone_at_once_and_after_a_build_until_the_next(own_root, open_screen) -> None:
    entry = weigh(own_root, "74.2")
    assert made_of(own_root).typed
    take_back(own_root, entry, "Sage")
    assert made_of(own_root) == NOTHING
    entry = weigh(own_root, "74.4")
    build(own_root)
    take_back(own_root, entry, "Sage")
    made = made_of(own_root)
    assert (made.typed, made.taken_back) == ((), frozenset({"T1"}))
    assert max(one.on_date for one in made.rows.mass) == date(2032, 8, 9)
    assert "without a weigh-in that was taken back" in shown(open_screen(own_root, "plans"))
    weigh(own_root, "74.3")  # corrected: only what counts now is shown
    assert [one.kg for one in made_of(own_root).typed] == [74.3]


def test_decisions_are_made_on_the_review_of_the_build(own_root, monkeypatch) -> None:
    monkeypatch.setenv("LATEWOOD_DATA", str(own_root))
    weigh(own_root, "74.9")
    opened = warehouse.published(AT_THE_MACHINE)
    (built,), (provisional,) = warehouse.built_reviews(opened), warehouse.plan_reviews(opened)
    assert (built.as_of, provisional.as_of) == (date(2032, 8, 9), TODAY)


def test_a_build_that_comes_out_otherwise_says_so(own_root, open_screen, monkeypatch) -> None:
    weigh(own_root, "74.2")
    shown(open_screen(own_root, "plans"))
    monkeypatch.setattr("latewood.pipeline.stats.plans.provisional.TOLERANCE_KG", 0.0)
    monkeypatch.setattr("latewood.dashboard.views.provisional.TOLERANCE_KG", 0.0)
    build(own_root)
    assert "after the build the trend is" in shown(open_screen(own_root, "plans"))


def test_entries_that_cannot_be_read_leave_the_build_on_the_screens(own_root, open_screen) -> None:
    weigh(own_root, "74.2")
    path = own_root / "entries" / f"{TODAY}.jsonl"
    path.write_text(path.read_text() + "{broken\n")
    assert "provisional" not in shown(open_screen(own_root, "plans")).lower()
