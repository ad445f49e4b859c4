"""Who is tested when, and what the instrument then reads: session and trial noise on the true course."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from saltmarsh import academy as a
from saltmarsh.people import Person, Stay
from saltmarsh.process import Course


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """One athlete at one test day; `day` counts from their own arrival, `slot` is the planned test day."""

    person: Person
    stay: Stay
    on: date
    day: int
    slot: int

    @property
    def is_first(self) -> bool:
        """Whether it is the first test of this stay."""
        return self.day == 1


@dataclass(slots=True, kw_only=True)
class Academy:
    """Everybody, their course, and the one source of random numbers for measurements."""

    people: list[Person]
    courses: dict[str, Course]
    rng: np.random.Generator

    def stays(self, camp: str) -> list[tuple[Person, Stay]]:
        """Athletes of one camp with their stay, in roster order."""
        return [(p, s) for p in self.people for s in p.stays if s.camp.key == camp]

    def tests(self, camp: str) -> list[Test]:
        """Test days of one camp in order of date, late intakes with their own first two."""
        result = []
        for person, stay in self.stays(camp):
            for slot, on in _test_days(stay):
                if on <= stay.last_day:
                    result.append(
                        Test(person=person, stay=stay, on=on, day=(on - stay.arrived_on).days, slot=slot)
                    )
        return sorted(result, key=lambda t: (t.on, t.person.athlete_id))

    def present(self, test: Test) -> bool:
        """Whether the athlete did this station; about six in a hundred do not."""
        return self.rng.random() >= a.MISSING_TEST or test.person.story is not None

    def spelled(self, person: Person) -> str:
        """The athlete's name as somebody writes it: those with other spellings under one of them half the time."""
        if not person.aliases or person.name == "Rowan T. Thistlewick" or self.rng.random() < 0.5:
            return person.name
        return str(self.rng.choice(person.aliases))

    def session(self, test: Test, key: str, sd: float, shift: float = 0.0) -> tuple[float, bool]:
        """The session's value around which trials fall, and whether a story fixes it."""
        story = test.person.story
        fixed = story.sessions.get((test.stay.camp.key, key), {}).get(test.slot) if story else None
        noise = float(self.rng.normal(0, sd))
        if fixed is not None:
            return fixed, True
        return self.courses[test.person.athlete_id].at(key, test.on) + shift + noise, False

    def trials(
        self, target: float, n: int, sd: float, *, fixed: bool = False, mishits: bool = False
    ) -> np.ndarray:
        """The n readings of a session; where a story fixes the value their median is exactly it."""
        values = target + self.rng.normal(0, sd, n)
        mishit = self.rng.random(n) < (a.MISHIT_SHARE if mishits else 0.0)
        loss = self.rng.uniform(*a.MISHIT_LOSS, n)
        values = values - np.where(mishit & (not fixed), loss, 0.0)
        return values + (target - np.median(values)) if fixed else values


def _test_days(stay: Stay) -> list[tuple[int, date]]:
    planned = [(d, stay.camp.day(d)) for d in stay.camp.tests]
    if stay.arrived_on == stay.camp.starts_on:
        return planned
    own = [(d, stay.arrived_on + timedelta(days=d)) for d in (1, 3)]
    return own + [(d, on) for d, on in planned if on > own[-1][1]]


def text(value: float, decimals: int) -> str:
    """The number as a device prints it."""
    return f"{value:.{decimals}f}"
