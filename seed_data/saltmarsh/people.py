"""Who comes to which camp: roster, stays and weight plans, story athletes first."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from saltmarsh.academy import (
    CAMP,
    CAMPS,
    CLOCK,
    GIVEN_FEMALE,
    GIVEN_MALE,
    SURNAME_FIRST,
    SURNAME_LAST,
    Camp,
)
from saltmarsh.stories import STORIES as TOLD
from saltmarsh.stories_more import OTHERS
from saltmarsh.story import Story

STORIES = TOLD + OTHERS
LEAVE_REASONS = ("family", "school", "travel", "own wish")
FIELD_POSITIONS = ("C", "1B", "2B", "3B", "SS", "LF", "CF", "RF")


@dataclass(slots=True, kw_only=True)
class Stay:
    """One athlete at one camp; `exit_on` is None while they are there, `planned` whether they have a weight plan."""

    camp: Camp
    arrived_on: date
    planned_until: date
    exit_on: date | None
    leave_reason: str = ""
    planned: bool = False

    @property
    def last_day(self) -> date:
        """The last day of the stay that can be in a file."""
        return min(self.exit_on or CLOCK, CLOCK)


@dataclass(slots=True, kw_only=True)
class Person:
    """One athlete of the roster with their stays in order."""

    athlete_id: str
    name: str
    sex: str
    sport: str
    birth: date
    positions: tuple[str, ...]
    bats: str
    throws: str
    aliases: tuple[str, ...] = ()
    story: Story | None = None
    stays: list[Stay] = field(default_factory=list)
    bat: str = "metal"

    @property
    def graduation_year(self) -> int:
        """The year of leaving high school: 18 before September of it."""
        return self.birth.year + (18 if self.birth.month < 9 else 19)

    @property
    def role(self) -> str:
        """The throwing role that follows from the first position in the field."""
        fielding = next((p for p in self.positions if p not in {"P", "LHP", "RHP"}), "1B")
        if fielding == "C":
            return "catcher"
        return "outfield" if fielding in {"OF", "LF", "CF", "RF"} else "infield"

    @property
    def pitches(self) -> bool:
        """Whether pitching is one of the positions."""
        return bool({"P", "LHP", "RHP"} & set(self.positions))

    def age(self, on: date) -> float:
        """Age in years."""
        return (on - self.birth).days / 365.25

    def bat_on(self, on: date) -> str:
        """The material of the bat used on that day."""
        changed = self.story is not None and self.story.bat_change is not None and on >= self.story.bat_change
        return "composite" if changed else self.bat


def build_people(rng: np.random.Generator) -> list[Person]:
    """All 168 athletes with stays, in roster order."""
    people: list[Person] = []
    used = {story.name.split()[-1] for story in STORIES}
    for sport in ("baseball", "softball"):
        stories = [s for s in STORIES if s.sport == sport]
        sets = [tuple(s.camps) for s in stories] + _camp_sets(sport, stories, rng)
        for story, camps in zip(stories + [None] * (len(sets) - len(stories)), sets, strict=True):
            people.append(_from_story(story) if story else _invent(sport, camps, used, rng))
            people[-1].stays = [_stay(people[-1], CAMP[c], story) for c in camps]
    order = rng.permutation(len(people))
    people = [people[i] for i in order]
    for number, person in enumerate(people, start=1):
        person.athlete_id = f"SL-{number:03d}"
    _late_intakes(people, rng)
    _leave_early(people, rng)
    _give_plans(people, rng)
    _aliases(people, rng)
    return people


def _camp_sets(sport: str, stories: list[Story], rng: np.random.Generator) -> list[tuple[str, ...]]:
    """The camps of everybody without a story: returners so that camps and head counts come out as planned."""
    left = {c.key: getattr(c, sport) for c in CAMPS}
    for story in stories:
        for key in story.camps:
            left[key] -= 1
    returning = [4] * 4 + [3] + [2] * 25 if sport == "baseball" else [4] * 2 + [2] * 9
    for story in stories:
        if len(story.camps) > 1:
            returning.remove(len(story.camps))
    sets = []
    for size in returning:
        weights = np.array([left[c.key] for c in CAMPS], float)
        chosen = sorted(rng.choice(len(CAMPS), size=size, replace=False, p=weights / weights.sum()))
        sets.append(tuple(CAMPS[i].key for i in chosen))
        for key in sets[-1]:
            left[key] -= 1
    sets += [(key,) for key, n in left.items() for _ in range(n)]
    return [sets[i] for i in rng.permutation(len(sets))]


def _from_story(story: Story) -> Person:
    return Person(
        athlete_id="",
        name=story.name,
        sex="male" if story.sport == "baseball" else "female",
        sport=story.sport,
        birth=story.birth,
        positions=story.positions,
        bats=story.bats,
        throws=story.throws,
        aliases=story.aliases,
        story=story,
        bat="metal" if story.sport == "baseball" or story.bat_change else "composite",
    )


def _invent(sport: str, camps: tuple[str, ...], used: set[str], rng: np.random.Generator) -> Person:
    first, last = CAMP[camps[0]].starts_on, CAMP[camps[-1]].starts_on
    span = (last - first).days / 365.25
    age = rng.uniform(13.2, 18.8 - span)
    surname = ""
    while not surname or surname in used:
        surname = str(rng.choice(SURNAME_FIRST)) + str(rng.choice(SURNAME_LAST))
    used.add(surname)
    male = sport == "baseball"
    throws = str(rng.choice(["R", "L"], p=[0.8, 0.2]))
    bats = str(rng.choice([throws, "L" if throws == "R" else "R", "S"], p=[0.78, 0.15, 0.07]))
    positions = _positions(sport, throws, rng)
    bat = (
        "metal"
        if (male and age < 18.0) or (not male and rng.random() < 0.15)
        else ("wood" if male else "composite")
    )
    return Person(
        athlete_id="",
        name=f"{rng.choice(GIVEN_MALE if male else GIVEN_FEMALE)} {surname}",
        sex="male" if male else "female",
        sport=sport,
        birth=first - timedelta(days=round(age * 365.25)),
        positions=positions,
        bats=bats,
        throws=throws,
        bat=bat,
    )


def _positions(sport: str, throws: str, rng: np.random.Generator) -> tuple[str, ...]:
    usable = [p for p in FIELD_POSITIONS if throws == "R" or p in {"1B", "LF", "CF", "RF"}]
    chosen = [str(p) for p in rng.choice(usable, size=2, replace=False)]
    if rng.random() < 0.26:
        chosen = [("P" if sport == "softball" else f"{throws}HP"), chosen[0]]
    return tuple(chosen if rng.random() < 0.6 else chosen[:1])


def _stay(person: Person, camp: Camp, story: Story | None) -> Stay:
    arrived = camp.day(story.arrives_day if story and camp.key == "F" else 0)
    until = arrived + timedelta(days=camp.days)
    stay = Stay(camp=camp, arrived_on=arrived, planned_until=until, exit_on=until if until < CLOCK else None)
    if story and story.leaves_day:
        stay.exit_on, stay.leave_reason = arrived + timedelta(days=story.leaves_day), "family"
    return stay


def _late_intakes(people: list[Person], rng: np.random.Generator) -> None:
    """Six more athletes of camp F come two weeks late, two come five weeks late."""
    start = CAMP["F"].starts_on
    free = [p for p in people if p.story is None and p.stays[-1].camp.key == "F" and p.age(start) > 14.5]
    for i, person in enumerate(rng.choice(np.array(free, dtype=object), size=8, replace=False)):
        stay = person.stays[-1]
        stay.arrived_on = stay.camp.day(14 if i < 6 else 35)
        stay.planned_until = min(stay.arrived_on + timedelta(days=70), stay.camp.ends_on)


def _leave_early(people: list[Person], rng: np.random.Generator) -> None:
    for camp in CAMPS:
        stays = [
            s
            for p in people
            if p.story is None
            for s in p.stays
            if s.camp is camp and s.arrived_on == camp.starts_on
        ]
        already = sum(1 for p in people for s in p.stays if s.camp is camp and s.leave_reason)
        for i in rng.choice(len(stays), size=camp.early - already, replace=False):
            stays[i].exit_on = stays[i].arrived_on + timedelta(days=int(rng.integers(23, 45)))
            stays[i].leave_reason = str(rng.choice(LEAVE_REASONS))


def _give_plans(people: list[Person], rng: np.random.Generator) -> None:
    for key, size in (("D", 12), ("F", 30)):
        mine = [(p, s) for p in people for s in p.stays if s.camp.key == key]
        for person, stay in mine:
            late = person.story is None and stay.arrived_on == CAMP["F"].day(35)
            stay.planned = late or (person.story is not None and key in person.story.plan_camps)
        missing = size - sum(s.planned for _, s in mine)
        free = [
            s
            for p, s in mine
            if not s.planned and p.story is None and p.age(s.arrived_on) >= 14.2 and not s.leave_reason
        ]
        for i in rng.choice(len(free), size=missing, replace=False):
            free[i].planned = True


def _aliases(people: list[Person], rng: np.random.Generator) -> None:
    """Short first names under which some returners are already known."""
    returners = [p for p in people if p.story is None and len(p.stays) > 1]
    for i in rng.choice(len(returners), size=8, replace=False):
        given, surname = returners[i].name.split()
        returners[i].aliases = (f"{given[:3]} {surname}", f"{surname}, {given}")
