"""What of the warehouse one viewer may read: every read is declared as a kind of data, and rows are bounded to camps.

Rows are cached for all, whole; they are bounded here, after the cache and before anybody gets them, so that no
session can be served what was read for another.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, TypeVar

from latewood.pipeline.access import Viewer
from latewood.pipeline.errors import ForbiddenError

if TYPE_CHECKING:
    from latewood.dashboard.reads.rows import Stay

Row = TypeVar("Row")

# Every file of dashboard/reads/sql that a screen reads, with the kind of data it holds. What is missing
# here nobody reads.
KIND_OF: Mapping[str, str] = {
    **dict.fromkeys(("build", "measures", "lines", "bridges", "measurement_errors", "mass_links"), "program"),
    **dict.fromkeys(("strength_links", "mass_or_strength", "size_exponents", "projection_scores"), "program"),
    **dict.fromkeys(("entry_measures", "camp_spreads", "link_spreads"), "program"),
    **dict.fromkeys(("athletes", "camps", "stays"), "roster"),
    **dict.fromkeys(("cohort_gains", "camp_trends", "camp_values", "camp_verdicts", "camp_pairs"), "cohort"),
    "staggered_links": "cohort",
    **dict.fromkeys(
        (
            "camp_tally",
            "athlete_account",
            "athlete_growth",
            "athlete_links",
            "athlete_mass",
            "athlete_neighbours",
            "athlete_projections",
            "athlete_stages",
            "athlete_standings",
            "athlete_trends",
            "athlete_values",
            "athlete_weighins",
            "athlete_relative_strength",
        ),
        "athlete",
    ),
    **dict.fromkeys(("athlete_observations", "athlete_movement", "athlete_movement_doubts"), "observation"),
    **dict.fromkeys(("athlete_traces", "athlete_peak_orders", "athlete_order_changes"), "observation"),
    "order_repeatability": "program",
    **dict.fromkeys(("last_values", "entry_conditions"), "entry"),
    "not_computed": "program",
    **dict.fromkeys(("plans", "plan_reviews", "plan_mass", "plan_weighins"), "plan"),
    **dict.fromkeys(("plan_advice", "plan_guards", "plan_since", "plan_states", "plan_versions"), "plan"),
    "growth_stages": "plan",
    **dict.fromkeys(("plan_power", "guard_retests"), "plan"),
    "athlete_retests": "athlete",
    "test_days": "roster",
    "tests_done": "athlete",
    "held_rows": "held",
    "imports": "import",
    "decisions": "decision",
}
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


def bounds(viewer: Viewer, name: str) -> frozenset[str] | None:
    """The camps that a read is bounded to for this viewer; None where there is no bound.

    Raises ForbiddenError where the viewer's roles do not hold it, or nobody has declared what it holds.
    """
    if name not in KIND_OF:
        raise ForbiddenError(
            f"{name}: nobody may read this before dashboard/reads/guard.py says what it holds; add it to KIND_OF"
        )
    return viewer.camps_for(KIND_OF[name])


def check_asked(parameters: Mapping[str, str], circle: Circle) -> None:
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
