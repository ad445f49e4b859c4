"""Plans of test days beside each other, in words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from latewood.dashboard.actions.test_day_actions import Planned, plan_tests
from latewood.dashboard.views.cohorts.test_days import build_test_days
from latewood.pipeline.ingest.plans.schedules import CampTests
from latewood.pipeline.ingest.program import program_catalogue
from latewood.pipeline.stats.change.protocol import Schedule, Seen, SessionNoise
from tests.dashboard.made import lookup
from tests.reading_level import grade

NOW = Schedule(weeks=10.0, every=2.5, twice=False, trials=10)
EXIT = program_catalogue(Path("nowhere")).measures["exit_speed"]
TESTS = CampTests(
    measure=EXIT, line="tee, metal bat", now=NOW, athletes=32,
    noise=SessionNoise(session=0.8, trial=2.0, trials=10.0, summary=EXIT.summary),
)  # fmt: skip
SEEN = Seen(plan=NOW, sessions=5, noise=0.8, found=(0.12, 0.28, 0.59), false=0.02, athletes=32)
MORE = replace(NOW, trials=20)
SCALE = lookup().mean_scale("exit_speed")


def planned(*more: Seen) -> tuple[Planned, ...]:
    return tuple(Planned(plan=one.plan, seen=one) for one in (SEEN, *more))


def test_the_plan_of_today_stands_first_with_shares_luck_and_minutes() -> None:
    view = build_test_days(TESTS, planned(), NOW, SCALE)
    (row,) = view.rows
    assert row["Plan"] == "As now: every 2.5 weeks, 10 trials"
    small, middle, large = (SCALE.text(size * 0.8) for size in (1, 2, 3))
    assert list(row.values())[1:] == [
        "5 test days", f"{small}: 12 of 100", f"{middle}: 28 of 100", f"{large}: 59 of 100", "by luck: 2 of 100",
        "40 minutes",
    ]  # fmt: skip
    assert f"a gain of {SCALE.text(1.6)} would show in 28 of 100 athletes. None" in view.answer
    assert grade([view.answer]) <= 9.0


def test_the_plan_that_shows_more_than_chance_could_is_named_with_its_cost() -> None:
    better = replace(SEEN, plan=MORE, found=(0.16, 0.45, 0.88))
    view = build_test_days(TESTS, planned(better), MORE, SCALE)
    assert view.answer.endswith("Most: 20 trials, in 45 of 100, for 25 more minutes an athlete.")
    assert view.rows[1]["Plan"] == "20 trials (as typed)"
    little = replace(better, found=(0.16, 0.36, 0.88))  # 8 of 100 more, give or take 10
    assert (
        "None of these plans shows clearly more."
        in build_test_days(TESTS, planned(little), NOW, SCALE).answer
    )


def test_a_plan_with_too_few_test_days_says_so_and_the_others_stand() -> None:
    rare = replace(NOW, every=9.0)
    made = plan_tests(replace(TESTS, athletes=8), rare)
    assert [one.plan for one in made][:2] == [NOW, rare]
    assert made[1].seen is None
    assert all(one.seen is not None for one in (made[0], *made[2:]))
    view = build_test_days(TESTS, made, rare, SCALE)
    assert view.rows[1]["Test days"] == "too few test days, 4 are needed"
