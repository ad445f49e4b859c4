"""Who has missed a test day of their camp: by the camp's calendar, or by the days on which the camp was tested."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from latewood.dashboard.reads.rows import Stay
from latewood.dashboard.views.lookup import Lookup

AROUND_DAYS = 2  # a test done so many days before the day of the calendar counts for it
MOST = 0.5  # a day on which at least so many of those at camp were tested was a test day of the camp


@dataclass(frozen=True, slots=True, kw_only=True)
class CampDay:
    """A day on which a camp plans to test."""

    camp_id: str
    on_date: date


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneOn:
    """A day on which an athlete at camp was tested in anything but body mass."""

    athlete_id: str
    stay_id: str
    camp_id: str
    held_on: date
    n_measures: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Overdue:
    """Those of one camp who were not tested on its latest test day or since."""

    camp_id: str
    due: date
    athlete_ids: tuple[str, ...]
    n_there: int
    from_calendar: bool

    @property
    def nobody_tested(self) -> bool:
        """Whether the whole camp has no result of that day."""
        return len(self.athlete_ids) == self.n_there


@dataclass(frozen=True, slots=True, kw_only=True)
class Calendar:
    """What is overdue, what comes next, and the camps that have no calendar."""

    overdue: tuple[Overdue, ...]
    today: tuple[str, ...]  # camps that test today
    ahead: tuple[tuple[str, date], ...]  # camp and its next test day
    without: tuple[str, ...]  # running camps whose test days nobody has imported


def build_calendar(
    calendar: Iterable[CampDay], tested: Sequence[DoneOn], today: date, lookup: Lookup
) -> Calendar:
    """The test days of every running camp that the viewer sees."""
    planned: dict[str, list[date]] = {}
    for one in calendar:
        planned.setdefault(one.camp_id, []).append(one.on_date)
    running = [camp for camp in lookup.camps.values() if camp.starts_on <= today <= camp.ends_on]
    result = []
    for camp in sorted(running, key=lambda one: one.label):
        own = [one for one in tested if one.camp_id == camp.camp_id]
        days = planned.get(camp.camp_id) or _days_observed(camp.camp_id, own, lookup)
        past = [day for day in days if day < today]
        if past:
            due = TestDue(camp_id=camp.camp_id, on=max(past), from_calendar=camp.camp_id in planned)
            result.append(_overdue(due, own, today, lookup))
    return Calendar(
        overdue=tuple(one for one in result if one.athlete_ids),
        today=tuple(camp.label for camp in running if today in planned.get(camp.camp_id, ())),
        ahead=tuple(
            (camp.label, min(day for day in planned[camp.camp_id] if day > today))
            for camp in running
            if any(day > today for day in planned.get(camp.camp_id, ()))
        ),
        without=tuple(sorted(camp.label for camp in running if camp.camp_id not in planned)),
    )


def there_on(camp_id: str, day: date, lookup: Lookup) -> list[Stay]:
    """The stays that cover a day."""
    return [
        stay
        for stay in lookup.stays.values()
        if stay.camp_id == camp_id and stay.arrived_on <= day <= (stay.left_on or stay.planned_until)
    ]


def _days_observed(camp_id: str, tested: Sequence[DoneOn], lookup: Lookup) -> list[date]:
    """Days on which at least half of those at camp were tested."""
    by_day: dict[date, set[str]] = {}
    for one in tested:
        by_day.setdefault(one.held_on, set()).add(one.stay_id)
    days = []
    for day, stays in by_day.items():
        there = {stay.stay_id for stay in there_on(camp_id, day, lookup)}
        if there and len(there & stays) >= MOST * len(there):
            days.append(day)
    return days


@dataclass(frozen=True, slots=True, kw_only=True)
class TestDue:
    """The last test day of a camp that has passed, from its calendar or as it was observed."""

    __test__ = False  # no test class of pytest

    camp_id: str
    on: date
    from_calendar: bool


def _overdue(due: TestDue, tested: Sequence[DoneOn], today: date, lookup: Lookup) -> Overdue:
    """Those who were there on the day, are there now, and have no test since two days before it."""
    since = due.on - timedelta(days=AROUND_DAYS)
    done = {one.stay_id for one in tested if since <= one.held_on <= today}
    there = [
        stay
        for stay in there_on(due.camp_id, due.on, lookup)
        if today <= (stay.left_on or stay.planned_until)
    ]
    missing = [stay.athlete_id for stay in there if stay.stay_id not in done]
    return Overdue(
        camp_id=due.camp_id,
        due=due.on,
        athlete_ids=tuple(sorted(missing, key=lookup.name)),
        n_there=len(there),
        from_calendar=due.from_calendar,
    )
