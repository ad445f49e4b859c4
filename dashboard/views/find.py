"""Athletes by what somebody types of their name, however it is written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from latewood.dashboard.reads.rows import Athlete
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.warehouse.lookups import plain_name


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedAthlete:
    """One athlete whom a typed name fits, with what keeps two of one name apart."""

    athlete_id: str
    name: str
    beside: str


def by_name(athletes: Iterable[Athlete], typed: str) -> tuple[str, ...]:
    """Ids of the athletes whose name holds every word typed, by name; only those called or numbered so if any are."""
    words = plain_name(typed).split()
    if not words:
        return ()
    rows = [(plain_name(one.display_name), one.athlete_id) for one in athletes]
    exact = sorted(row for row in rows if row[0].split() == words or [plain_name(row[1])] == words)
    some = sorted(row for row in rows if all(word in row[0] for word in words))
    return tuple(athlete_id for _, athlete_id in exact or some)


def people(typed: str, lookup: Lookup) -> tuple[NamedAthlete, ...]:
    """Those whom a typed name fits, each with sport, positions and camps."""
    return tuple(_person(athlete_id, lookup) for athlete_id in by_name(lookup.athletes.values(), typed))


def _person(athlete_id: str, lookup: Lookup) -> NamedAthlete:
    one = lookup.athletes[athlete_id]
    camps = [lookup.camp_label(s.camp_id) for s in lookup.stays.values() if s.athlete_id == athlete_id]
    texts = (one.sport, one.positions, *camps)
    return NamedAthlete(athlete_id=athlete_id, name=one.display_name, beside=", ".join(t for t in texts if t))
