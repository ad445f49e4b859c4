"""What the Monday screen is made of: topics, lines with their links, and what was found for a viewer."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import HeldRow
from latewood.dashboard.text.wording import day
from latewood.dashboard.views.monday.monday_tests import CampDay, DoneOn
from latewood.dashboard.views.plans.plan_case import PlanRecord
from latewood.pipeline.catalogue.handles import BODY_MASS
from latewood.pipeline.ingest.consent.agreed import Unplaced
from latewood.pipeline.ingest.logs.build_notes import FailedBuild
from latewood.pipeline.ingest.logs.conclusions import Conclusions
from latewood.pipeline.ingest.logs.entered import ABSENT, TypedEntry
from latewood.pipeline.ingest.people.visits import Visit
from latewood.pipeline.stats.change.results import RetestAdvice

PLANS, WEIGHINS, TESTS, HELD = "plans", "weigh-ins", "tests", "held rows"
CONSENTS = "withdrawals of consent"
BUILDS, RESULTS, GAINS = "builds", "results", "gains"


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Where a line is settled: a screen with its query, and the words of the link."""

    label: str
    screen: str
    query: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line: how many, of what, why, and where it is settled."""

    topic: str
    n: int
    title: str
    why: str
    links: tuple[Link, ...]
    stop: bool = False  # a medical referral: drawn first, with its caution
    alarm: bool = False  # drawn before all that is no alarm


@dataclass(frozen=True, slots=True, kw_only=True)
class Unusable:
    """One value of a file that counts in no result until somebody answers."""

    athlete_id: str
    stay_id: str
    camp_id: str
    measure: str
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What the screen is made from; what does not concern the viewer's roles is empty."""

    visit: Visit
    record: PlanRecord | None = None
    typed: frozenset[str] = (
        frozenset()
    )  # athletes whose mass was typed within a week and may not be built yet
    absences: tuple[
        TypedEntry, ...
    ] = ()  # who could not be measured within a week, with a reason of the short list
    calendar: tuple[CampDay, ...] = ()
    tested: tuple[DoneOn, ...] = ()
    retests: tuple[RetestAdvice, ...] = ()  # what one more test day would do to each open change
    unusable: tuple[Unusable, ...] = ()  # values that count in nothing until they are answered
    now: Conclusions | None = None
    then: Conclusions | None = None
    held: tuple[HeldRow, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()  # withdrawals of consent that fit nobody
    failed: tuple[FailedBuild, ...] = ()
    knows_why: bool = False  # whether the viewer may read why a build failed: it can name files and athletes
    behind: bool = False  # whether files, answers or entries wait for a build
    troubles: tuple[str, ...] = ()


def not_measured(absences: Iterable[TypedEntry], athlete_id: str, *, mass: bool) -> str:
    """What goes after a name where somebody noted why the athlete was not weighed or tested; '' where nobody did."""
    own = [one for one in absences if one.athlete_id == athlete_id and (one.measure == BODY_MASS) == mass]
    if not own:
        return ""
    last = max(own, key=lambda one: one.measured_on)
    what = "not weighed" if mass else "not tested"
    return f", {what} {day(date.fromisoformat(last.measured_on))}: {ABSENT.get(last.absent, ABSENT['other'])}"
