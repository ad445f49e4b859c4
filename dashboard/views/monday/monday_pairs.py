"""Who should be tested on a second day: after arrival, so that a poor first day is not taken for gain; at the end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from latewood.dashboard.reads.rows import Camp, Stay
from latewood.dashboard.text.wording import day, joined
from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.monday.monday_tests import CampDay, DoneOn

PAIR_DAYS = 3  # two test days this near count as a pair
LAST_DAYS = 7  # the end of a stay or camp
SOON_DAYS = 14  # a camp that starts within so many days can still be planned


def second_days(
    here: Sequence[Stay], tested: Iterable[DoneOn], today: date, lookup: Lookup
) -> dict[str, str]:
    """The athletes who were tested once on arrival, or at most once in their last week, and until when; by name."""
    days: dict[str, set[date]] = {}
    for one in tested:
        days.setdefault(one.stay_id, set()).add(one.held_on)
    result = {}
    for stay in sorted(here, key=lambda one: lookup.name(one.athlete_id)):
        own, ends = days.get(stay.stay_id, set()), stay.left_on or stay.planned_until
        late = [on for on in own if on > ends - timedelta(days=LAST_DAYS)]
        if len(own) == 1 and (by := min(own) + timedelta(days=PAIR_DAYS)) > today > min(own):
            result[stay.athlete_id] = f"by {day(by)}"
        elif own and today <= ends <= today + timedelta(days=LAST_DAYS) and len(late) < 2:
            more = "one more" if late else "two"
            result[stay.athlete_id] = f"{more} before {day(ends)}"
    return result


def unpaired(calendar: Iterable[CampDay], camps: Iterable[Camp], today: date) -> str:
    """Which camps to come have by their calendar no two test days near their start or in their last week; or ''."""
    planned: dict[str, list[date]] = {}
    for one in calendar:
        planned.setdefault(one.camp_id, []).append(one.on_date)
    result = []
    for camp in camps:
        days = planned.get(camp.camp_id, [])
        if not days or not today <= camp.starts_on <= today + timedelta(days=SOON_DAYS):
            continue
        start = sum(on <= camp.starts_on + timedelta(days=PAIR_DAYS) for on in days)
        end = sum(on > camp.ends_on - timedelta(days=LAST_DAYS) for on in days)
        missing = [words for words, n in (("in the first days", start), ("in the last week", end)) if n < 2]
        if missing:
            result.append(f"{camp.label} has no two test days {joined(missing)}")
    return (
        f"{'; '.join(result)}: two days near each other tell gain from one good or bad day." if result else ""
    )
