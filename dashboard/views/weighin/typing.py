"""Values typed on a tablet: who is still missing, what is saved, and how the last camp measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.scales import MINUS
from latewood.pipeline.ingest.logs.entered import TypedEntry

NEARLY_ALL = 0.9  # of the last camp's values; set by eye: a mixed camp has no default


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryMeasure:
    """A measure as the entry screens need it; values in `unit`."""

    measure: str
    label: str
    unit: str
    resolution: float
    decimals: int
    trials: int
    hard_low: float
    hard_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LastValue:
    """The latest value of one athlete in one measure, from the published build."""

    athlete_id: str
    value: float
    held_on: date


def usual_conditions(
    known: Mapping[str, Sequence[str]], counted: Sequence[tuple[Mapping[str, str], int]]
) -> dict[str, str]:
    """The word of each condition under which nearly everything was measured; none where ways were mixed.

    `known` has the accepted words of each condition, `counted` how often each set of conditions was stated.
    """
    total = sum(n for _, n in counted)
    result = {}
    for key, words in known.items():
        for word in words:
            if total and sum(n for stated, n in counted if stated.get(key) == word) >= NEARLY_ALL * total:
                result[key] = word
    return result


def present(lookup: Lookup, camp_id: str, today: date) -> dict[str, str]:
    """The athletes who are at a camp today, by name."""
    here = {
        stay.athlete_id
        for stay in lookup.stays.values()
        if stay.camp_id == camp_id and stay.arrived_on <= today <= (stay.left_on or stay.planned_until)
    }
    names = {one: lookup.name(one) for one in here if one in lookup.athletes}
    return dict(sorted(names.items(), key=lambda pair: pair[1]))


def running_camps(lookup: Lookup, today: date) -> dict[str, str]:
    """The camps at which anybody is today, the latest first."""
    result = {camp_id: camp for camp_id, camp in lookup.camps.items() if present(lookup, camp_id, today)}
    order = sorted(result.values(), key=lambda camp: camp.starts_on, reverse=True)
    return {camp.camp_id: camp.label for camp in order}


def saved_by_athlete(entries: Iterable[TypedEntry]) -> dict[tuple[str, int], TypedEntry]:
    """The standing entry of each athlete and trial, the latest typed, of entries of one measure and way."""
    return {(one.athlete_id, one.trial): one for one in entries}


def with_typed(
    last: Mapping[str, LastValue], earlier: Sequence[tuple[date, TypedEntry]], factor: Mapping[str, float]
) -> dict[str, LastValue]:
    """The last values with those typed since the build; `factor` turns a typed unit into the measure's own."""
    result = dict(last)
    for on, entry in earlier:
        value = float(entry.value.replace(MINUS, "-")) * factor.get(entry.unit, 1.0)
        result[entry.athlete_id] = LastValue(athlete_id=entry.athlete_id, value=value, held_on=on)
    return result
