"""Test days of a camp planned: read and worked out at a press, for whoever may see what the camp gained."""

from __future__ import annotations

from dataclasses import dataclass

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import rows
from latewood.pipeline.errors import DesignError
from latewood.pipeline.ingest.plans.schedules import CampTests, camp_tests, choices, outlook
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.stats.change.protocol import Schedule, Seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One schedule and what it lets the camp see; None where it has too few test days for any verdict."""

    plan: Schedule
    seen: Seen | None


def tests_now(build: rows.Build, camp_id: str, measure: str) -> CampTests:
    """How the camp is tested today; raises ForbiddenError, and DesignError naming what is missing."""
    rights.in_camp(build, "cohort", camp_id)
    return camp_tests(data_dir(), camp_id, measure)


def plan_tests(tests: CampTests, asked: Schedule) -> tuple[Planned, ...]:
    """The schedule of today, the one asked for where it is another, and today's with one thing changed."""
    now, *others = choices(tests)
    return tuple(_planned(tests, one) for one in dict.fromkeys((now, asked, *others)))


def _planned(tests: CampTests, plan: Schedule) -> Planned:
    try:
        return Planned(plan=plan, seen=next(outlook(tests, (plan,))))
    except DesignError:
        return Planned(plan=plan, seen=None)
