"""What of the warehouse one viewer may read: rows are bounded to the camps in which they hold that kind of data.

Rows are cached for all, whole; they are bounded here, after the cache and before anybody gets them, so that no
session can be served what was read for another.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar

from latewood.dashboard.reads.rows import Stay
from latewood.pipeline.errors import ForbiddenError

Row = TypeVar("Row")

NOT_YOURS = "this athlete or camp is not among those your role covers, or there is none of that id"


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """The camps a right is bounded to, with the stays at them."""

    camps: frozenset[str]
    stays: Mapping[str, Stay]
    athletes: frozenset[str]

    def holds(self, row: object, asked: str | None) -> bool:
        """Whether a row belongs to these camps by each of the ids it carries; what belongs to no camp is outside.

        `asked` is the athlete who was asked for, for rows that do not repeat them.
        """
        athlete = getattr(row, "athlete_id", asked)
        scope, day = getattr(row, "scope", "program"), _day_of(row)
        return (
            (athlete is None or athlete in self.athletes)
            and all(
                getattr(row, name) in self.camps for name in ("camp_id", "other_id") if hasattr(row, name)
            )
            and (not hasattr(row, "stay_id") or row.stay_id in self.stays)
            and (scope == "program" or scope in self.camps)
            and (day is None or self._during(athlete, day))
        )

    def _during(self, athlete: str | None, day: date) -> bool:
        return any(
            stay.athlete_id == athlete and stay.arrived_on <= day <= (stay.left_on or stay.planned_until)
            for stay in self.stays.values()
        )


def _day_of(row: object) -> date | None:
    """The day of a row that names neither its stay nor its camp."""
    if hasattr(row, "stay_id") or hasattr(row, "camp_id"):
        return None
    day: date | None = getattr(row, "observed_on", None) or getattr(row, "measured_on", None)
    return day


def circle_of(camps: frozenset[str], stays: Iterable[Stay]) -> Circle:
    """The circle of some camps."""
    own = {stay.stay_id: stay for stay in stays if stay.camp_id in camps}
    return Circle(camps=camps, stays=own, athletes=frozenset(stay.athlete_id for stay in own.values()))


def check_requested(parameters: Mapping[str, str], circle: Circle) -> None:
    """Raise ForbiddenError where an athlete or a camp outside the circle was asked for."""
    camp, athlete = parameters.get("camp_id"), parameters.get("athlete_id")
    if (camp is not None and camp not in circle.camps) or (
        athlete is not None and athlete not in circle.athletes
    ):
        raise ForbiddenError(NOT_YOURS)


def within(found: tuple[Row, ...], circle: Circle, asked: str | None = None) -> tuple[Row, ...]:
    """The rows of the circle; a peer from outside it loses their id."""
    return tuple(_masked(row, circle) for row in found if circle.holds(row, asked))


def _masked(row: Row, circle: Circle) -> Row:
    peer = getattr(row, "peer_id", None)
    if peer is None or peer in circle.athletes:
        return row
    return replace(row, peer_id="")  # type: ignore[type-var]  # every Row is a dataclass
