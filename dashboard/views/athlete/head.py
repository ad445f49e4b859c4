"""The head of the athlete page: who this is, where in camp, how tall and heavy and measured when."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import Athlete, SessionValue, Stay
from latewood.dashboard.text.wording import age_text, count_of, full_day, height_text, mass_scale
from latewood.dashboard.views.athlete.timeline import Record
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.handles import BODY_MASS, STANDING_HEIGHT


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """Name and the facts under it, each a short text with its own date where it was measured."""

    name: str
    facts: tuple[str, ...]
    camp_line: str
    build: tuple[str, ...]


def stays_of(athlete_id: str, lookup: Lookup) -> tuple[Stay, ...]:
    """The athlete's stays, the latest first."""
    own = [stay for stay in lookup.stays.values() if stay.athlete_id == athlete_id]
    return tuple(sorted(own, key=lambda stay: stay.arrived_on, reverse=True))


def neighbours_of(athlete_id: str, lookup: Lookup) -> tuple[str | None, str | None]:
    """The athletes before and after, by name, in the latest camp of the athlete; in the roster without a stay."""
    stays = stays_of(athlete_id, lookup)
    camp = stays[0].camp_id if stays else None
    there = {stay.athlete_id for stay in lookup.stays.values() if stay.camp_id == camp} & set(lookup.athletes)
    names = sorted(there or lookup.athletes, key=lambda one: (lookup.name(one).casefold(), one))
    at = names.index(athlete_id)
    return (names[at - 1] if at else None), (names[at + 1] if at + 1 < len(names) else None)


def build_head(
    athlete: Athlete,
    stay: Stay | None,
    record: Record,
    today: date,
    lookup: Lookup,
) -> Head:
    """The head for one athlete and one stay; age is the age today."""
    facts = [
        age_text(athlete.birth_date, today),
        athlete.sport or "",
        (athlete.positions or "").replace("/", " / "),
        _hands(athlete),
        f"class of {athlete.graduation_year}" if athlete.graduation_year else "",
    ]
    return Head(
        name=athlete.display_name,
        facts=tuple(fact for fact in facts if fact),
        camp_line=_camp_line(stay, today, lookup),
        build=tuple(text for text in (_height(record.values, lookup), _mass(record, lookup)) if text),
    )


def _hands(athlete: Athlete) -> str:
    parts = [
        f"bats {athlete.bats}" if athlete.bats else "",
        f"throws {athlete.throws}" if athlete.throws else "",
    ]
    return ", ".join(part for part in parts if part)


def _camp_line(stay: Stay | None, today: date, lookup: Lookup) -> str:
    if stay is None:
        return "No stay at a camp is on record: import a stays file to see changes from intake to exit."
    label = lookup.camp_label(stay.camp_id)
    if stay.left_on is None or stay.left_on >= today:
        days = (today - stay.arrived_on).days + 1
        return f"{label}: day {days}, arrived {full_day(stay.arrived_on)}, planned until {full_day(stay.planned_until)}"
    days = (stay.left_on - stay.arrived_on).days + 1
    why = f" ({stay.leave_reason})" if stay.leave_reason else ""
    left = f"left early{why}" if stay.left_early else "left"
    return f"{label}: {count_of(days, 'day')}, arrived {full_day(stay.arrived_on)}, {left} {full_day(stay.left_on)}"


def _latest(values: Sequence[SessionValue], measure: str) -> SessionValue | None:
    own = [value for value in values if value.measure == measure]
    return max(own, key=lambda value: value.held_on) if own else None


def _height(values: Sequence[SessionValue], lookup: Lookup) -> str:
    result = _latest(values, STANDING_HEIGHT)
    if result is None:
        return ""
    return f"{height_text(result.value, lookup.system)} tall on {full_day(result.held_on)}"


def _mass(record: Record, lookup: Lookup) -> str:
    scale = mass_scale(lookup.system)
    if record.mass:
        last = max(record.mass, key=lambda row: row.on_date)
        return f"{scale.text(last.smoothed_kg)} (trend of weigh-ins) on {full_day(last.on_date)}"
    result = _latest(record.values, BODY_MASS)
    return f"{scale.text(result.value)} on {full_day(result.held_on)}" if result is not None else ""
