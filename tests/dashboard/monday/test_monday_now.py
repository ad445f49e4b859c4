"""What Monday says of those at camp from the first visit on: five lines, each with its athletes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from made import CAMP, STAY, TEE, lookup

from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.monday.monday import Monday, build_monday, concerns
from latewood.dashboard.views.monday.monday_lines import Found, Unusable
from latewood.dashboard.views.monday.monday_now import NAMES, build_now
from latewood.dashboard.views.monday.monday_tests import CampDay, DoneOn
from latewood.pipeline.access import ROLES, Grant, Viewer
from latewood.pipeline.ingest.logs.conclusions import Conclusion, Conclusions
from latewood.pipeline.ingest.people.visits import Visit
from latewood.pipeline.stats.change.results import RetestAdvice

TODAY = date(2032, 7, 8)
FIRST_VISIT = Visit(before=None, trouble="")
OTHER = replace(STAY, stay_id="T2@K", athlete_id="T2")
TITLES = ["Better", "Worse", "One more test would settle it", "Unusable values", "No test this month"]


def place(*stays) -> Lookup:
    view = lookup()
    return replace(view, stays={one.stay_id: one for one in stays or (STAY, OTHER)})


def trend(who: str, verdict: str, z: float) -> Conclusion:
    return Conclusion(
        athlete_id=who, stay_id=f"{who}@K", camp_id="K", measure="exit_speed", line=TEE, n_sessions=5, change=1.0,
        low=0.2, high=1.8, z=z, verdict=verdict, sessions=((TODAY, 35.0),),
    )  # fmt: skip


def seen(*trends: Conclusion, **other) -> Found:
    now = Conclusions(
        build_id="a" * 16, code="1", data="1", n_open=0, imports=frozenset(), trends=trends, plans=()
    )
    return Found(visit=FIRST_VISIT, now=now, **other)


def advice(who: str, chance: float, extra: int = 1) -> RetestAdvice:
    return RetestAdvice(
        athlete_id=who, stay_id=f"{who}@K", measure="exit_speed", line=TEE, extra=extra, weeks_apart=2.0, sure_now=0.9,
        sure_then=0.97, clear_then=True, chance_clear=chance, n_sessions=5, level=0.95, method="test",
    )  # fmt: skip


def labels(found: Found, title: str, look: Lookup | None = None) -> list[str]:
    (item,) = (one for one in build_now(found, TODAY, look or place()) if one.title == title)
    return [link.label.replace("\u00a0", " ") for link in item.links]


def test_every_line_is_there_on_a_first_visit_whatever_is_in_it() -> None:
    view = build_now(seen(), TODAY, place())
    assert [one.title for one in view] == TITLES
    assert [one.n for one in view] == [0, 0, 0, 0, 2]
    assert all(one.why for one in view)


def test_clear_changes_are_better_or_worse_and_the_others_in_neither() -> None:
    found = seen(trend("T1", "clear gain", 6.0), trend("T2", "clear loss", -6.0))
    assert labels(found, "Better") == ["Arlo Fernmoss (Exit speed)"]
    assert labels(found, "Worse") == [f"{place().name('T2')} (Exit speed)"]
    open_one = seen(trend("T1", "not clear yet", 1.0))
    assert labels(open_one, "Better") == labels(open_one, "Worse") == []


def test_a_clear_change_that_many_looks_explain_is_not_named() -> None:
    crowd = [replace(trend("T1", "not clear yet", 0.1), line=str(n)) for n in range(400)]
    assert labels(seen(*crowd, trend("T2", "clear gain", 2.6)), "Better") == []
    assert labels(seen(trend("T2", "clear gain", 2.6)), "Better") != []


def test_a_change_with_an_even_chance_of_one_more_day_is_named_with_it() -> None:
    found = seen(retests=(advice("T1", 0.62), advice("T2", 0.49), advice("T2", 0.9, extra=2)))
    assert labels(found, "One more test would settle it") == ["Arlo Fernmoss (Exit speed, 62 %)"]


def test_values_that_wait_are_counted_by_athlete_with_the_commonest_reason() -> None:
    value = Unusable(athlete_id="T1", stay_id="T1@K", camp_id="K", measure="exit_speed", rule="unit_slip")
    found = seen(unusable=(value, value, replace(value, athlete_id="T2", stay_id="T2@K", rule="sentinel")))
    assert labels(found, "Unusable values")[0] == "Arlo Fernmoss (2 values)"
    (item,) = (one for one in build_now(found, TODAY, place()) if one.title == "Unusable values")
    assert item.why.startswith("3 values wait for the data steward: ")


@pytest.mark.parametrize(("on", "named"), [(date(2032, 6, 7), True), (date(2032, 6, 8), False)])
def test_who_was_last_tested_over_a_month_ago_is_named(on: date, named: bool) -> None:
    done = DoneOn(athlete_id="T1", stay_id="T1@K", camp_id="K", held_on=on, n_measures=3)
    assert (
        labels(seen(tested=(done,)), "No test this month", place(STAY))
        == ["Arlo Fernmoss (last on 7 Jun 2032)"]
    ) is named


def test_only_those_at_camp_today_count() -> None:
    gone = replace(OTHER, left_on=date(2032, 7, 1), left_early=True)
    found = seen(trend("T2", "clear loss", -6.0), retests=(advice("T2", 0.9),))
    assert [one.n for one in build_now(found, TODAY, place(STAY, gone))] == [0, 0, 0, 0, 1]
    assert build_now(found, date(2032, 12, 1), place(STAY, gone)) == ()


def test_many_names_are_counted_after_the_first() -> None:
    stays = [replace(STAY, stay_id=f"X{n}@K", athlete_id=f"X{n}") for n in range(NAMES + 3)]
    assert labels(seen(), "No test this month", place(*stays))[-1] == "and 3 more"


@pytest.mark.parametrize("role", ["performance_coach", "strength_coach", "director"])
def test_the_lines_are_on_the_page_of_coaches_on_their_first_visit(role: str) -> None:
    assert [one.title for one in page(role).now] == TITLES
    assert page("data_steward").now == ()


def page(role: str) -> Monday:
    viewer = Viewer(name="Sage", email="s@example.org", grants=(Grant(role=ROLES[role]),))
    return build_monday(seen(), concerns(viewer), viewer, TODAY, place())


def test_who_was_tested_once_on_arrival_is_proposed_for_a_second_day_and_nobody_else() -> None:
    came = replace(STAY, arrived_on=date(2032, 7, 7))
    once = DoneOn(athlete_id="T1", stay_id=came.stay_id, camp_id="K", held_on=came.arrived_on, n_measures=3)
    (item,) = (
        one for one in build_now(seen(tested=(once,)), TODAY, place(came, OTHER)) if one.title not in TITLES
    )
    assert item.title == "Test on a second day"
    assert [link.label.replace("\u00a0", " ") for link in item.links] == ["Arlo Fernmoss (by 10 Jul)"]
    assert "what the coach allows for throwing" in item.why


def test_a_calendar_without_paired_days_is_said_before_the_camp_starts() -> None:
    soon = replace(CAMP, camp_id="L", label="Oak camp", starts_on=date(2032, 7, 15), ends_on=date(2032, 9, 1))
    view = replace(place(), camps={"K": CAMP, "L": soon})
    found = seen(calendar=(CampDay(camp_id="L", on_date=soon.starts_on),))
    viewer = Viewer(name="Sage", email="s@example.org", grants=(Grant(role=ROLES["director"]),))
    told = build_monday(found, concerns(viewer), viewer, TODAY, view).aside
    assert sum(one.startswith("Oak camp has no two test days") for one in told) == 1
