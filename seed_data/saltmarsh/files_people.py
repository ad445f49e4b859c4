"""Roster, camps, stays and weight plans as files."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from saltmarsh.academy import CAMPS, CLOCK, KG_PER_LB, TIME_ZONE
from saltmarsh.people import Person, Stay
from saltmarsh.process import Course
from saltmarsh.sessions import Academy, text
from saltmarsh.sheets import Sheet

GROUPS = ("Early group", "Late group", "Midday group")
COACHES = ("Odalys Fernhollow", "Bartholomew Rushspindle")


def people_sheets(academy: Academy) -> list[Sheet]:
    """roster.csv, camps.csv, stays.csv and plans.csv."""
    return [_roster(academy), _camps(), _stays(academy), _plans(academy)]


def _roster(academy: Academy) -> Sheet:
    headers = (
        "athlete_id",
        "name",
        "birth_date",
        "sex",
        "sport",
        "graduation_year",
        "positions",
        "bats",
        "throws",
        "aliases",
    )
    sheet = Sheet(name="roster.csv", headers=headers, kind="roster")
    for p in academy.people:
        sheet.add(
            p,
            None,
            athlete_id=p.athlete_id,
            name=p.name,
            birth_date=p.birth.isoformat(),
            sex=p.sex,
            sport=p.sport,
            graduation_year=str(p.graduation_year),
            positions="/".join(p.positions),
            bats=p.bats,
            throws=p.throws,
            aliases="|".join(p.aliases),
        )
    return sheet


def _camps() -> Sheet:
    headers = ("camp_id", "label", "starts_on", "ends_on", "time_zone", "place", "test_days")
    sheet = Sheet(name="camps.csv", headers=headers, kind="camps")
    for c in CAMPS:
        sheet.add(
            None,
            None,
            camp_id=c.key,
            label=c.label,
            starts_on=c.starts_on.isoformat(),
            ends_on=c.ends_on.isoformat(),
            time_zone=TIME_ZONE,
            place="Saltmarsh Lantern Academy (invented)",
            test_days=";".join(c.day(d).isoformat() for d in c.tests),
        )
    return sheet


def _group(athlete_id: str) -> str:
    """The training group, by the number of the id alone: it plays no part in what was planted."""
    return GROUPS[int(athlete_id.rpartition("-")[2]) % len(GROUPS)]


def _stays(academy: Academy) -> Sheet:
    headers = ("athlete", "camp", "arrived_on", "left_on", "planned_until", "leave_reason", "group")
    sheet = Sheet(name="stays.csv", headers=headers, kind="stays")
    for camp in CAMPS:
        for p, s in academy.stays(camp.key):
            left = s.exit_on.isoformat() if s.exit_on and s.exit_on <= CLOCK else ""
            sheet.add(
                p,
                s.arrived_on,
                athlete=p.athlete_id,
                camp=camp.key,
                arrived_on=s.arrived_on.isoformat(),
                left_on=left,
                planned_until=s.planned_until.isoformat(),
                leave_reason=s.leave_reason,
                group=_group(p.athlete_id),
            )
    return sheet


def _plans(academy: Academy) -> Sheet:
    headers = (
        "plan_id",
        "version",
        "athlete",
        "start_on",
        "start_mass",
        "target_on",
        "target_mass",
        "unit",
        "purpose",
        "made_by",
        "approved_by",
        "reason",
        "ended_on",
    )
    sheet = Sheet(name="plans.csv", headers=headers, kind="plans")
    number = 0
    for camp in ("D", "F"):
        for person, stay in academy.stays(camp):
            if stay.planned:
                number += 1
                _add_plan(sheet, f"P-{number:03d}", person, stay, academy)
    return sheet


def _add_plan(sheet: Sheet, plan_id: str, person: Person, stay: Stay, academy: Academy) -> None:
    rng = academy.rng
    start, target = _amounts(person, stay, academy.courses[person.athlete_id], rng)
    pounds = person.story is None and rng.random() < 0.15
    versions = [(1, target)] + (
        [(2, start + 0.7 * (target - start))] if person.story is None and rng.random() < 0.1 else []
    )
    for version, kg in versions:
        weekly = (kg - start) / start * 100 / ((stay.planned_until - stay.arrived_on).days / 7)
        sheet.add(
            person,
            stay.arrived_on,
            plan_id=plan_id,
            version=str(version),
            athlete=person.athlete_id,
            start_on=stay.arrived_on.isoformat(),
            start_mass=_mass(start, pounds),
            target_on=stay.planned_until.isoformat(),
            target_mass=_mass(kg, pounds),
            unit="lb" if pounds else "kg",
            purpose=str(rng.choice(["strength base", "hold speed while growing", "add mass for power"])),
            made_by=str(rng.choice(COACHES)),
            approved_by=_approval(person, stay.arrived_on),
            reason=_reason(weekly, version),
            ended_on=_ended(stay),
        )


def _amounts(person: Person, stay: Stay, course: Course, rng: np.random.Generator) -> tuple[float, float]:
    if person.story and person.story.plan:
        return person.story.plan
    weeks = (stay.planned_until - stay.arrived_on).days / 7
    start = course.at("mass", stay.arrived_on) + float(rng.normal(0, 0.2))
    return start, start * (1 + rng.uniform(0.2, 0.46) / 100 * weeks)


def _mass(kg: float, pounds: bool) -> str:
    return text(kg / KG_PER_LB, 1) if pounds else text(kg, 1)


def _approval(person: Person, on: date) -> str:
    return "guardian and dietitian" if person.age(on) < 16 else "guardian"


def _reason(weekly_percent: float, version: int) -> str:
    if version > 1:
        return "target lowered after the mid-camp review"
    return (
        "near the ceiling: agreed with guardian after three steady weeks at home"
        if weekly_percent > 0.42
        else ""
    )


def _ended(stay: Stay) -> str:
    if stay.exit_on is not None and stay.exit_on <= CLOCK:
        return (stay.exit_on + timedelta(days=0)).isoformat()
    return ""
