"""Whether a name on a roster without ids is an athlete of an earlier roster: two people may carry one name.

The same birth date says yes; another birth date, sex or graduation year says no; all else has to be asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from latewood.pipeline.errors import NothingPublishedError
from latewood.pipeline.ingest.files.tidy import made_id, name_mark
from latewood.pipeline.ingest.people.records import Record
from latewood.pipeline.warehouse.connection import open_published
from latewood.pipeline.warehouse.lookups import plain_name

PEOPLE = "select athlete_id, display_name, birth_date, sex, graduation_year from athlete order by athlete_id"


@dataclass(frozen=True, slots=True, kw_only=True)
class RosterPerson:
    """An athlete as a roster names them, with what may tell two of one name apart."""

    athlete_id: str
    name: str
    birth_date: date | None = None
    sex: str | None = None
    graduation_year: int | None = None

    @property
    def marks(self) -> str:
        """What is known of them, in words; '' where nothing is."""
        parts = [f"born {self.birth_date}"] if self.birth_date else []
        parts += [self.sex] if self.sex else []
        return ", ".join([*parts, *([f"class of {self.graduation_year}"] if self.graduation_year else [])])


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """One person of a new roster beside the earlier athletes of that name.

    `sure` is the athlete it is, '' where it is none or that is open; `possible` are those it may be.
    """

    person: RosterPerson
    earlier: tuple[RosterPerson, ...]
    sure: str
    possible: tuple[RosterPerson, ...]


def people_of(root: Path) -> list[RosterPerson]:
    """The athletes of the published build; none where there is none yet.

    Raises BuildError where the build cannot be read: nobody must seem new because of that.
    """
    try:
        with open_published(root) as connection:
            rows = connection.execute(PEOPLE).fetchall()
    except NothingPublishedError:
        return []
    return [
        RosterPerson(athlete_id=i, name=name, birth_date=born, sex=sex, graduation_year=year)
        for i, name, born, sex, year in rows
    ]


def person_of(record: Record) -> RosterPerson:
    """The person of a roster's row."""
    return RosterPerson(
        athlete_id=record["athlete_id"], name=record["display_name"], birth_date=record["birth_date"],
        sex=record["sex"], graduation_year=record["graduation_year"],
    )  # fmt: skip


def match(person: RosterPerson, earlier: Iterable[RosterPerson]) -> Match:
    """The person beside those of the same name, case, accents and stops aside."""
    name = plain_name(person.name)
    alike = tuple(one for one in earlier if plain_name(one.name) == name)
    born = [one for one in alike if person.birth_date is not None and person.birth_date == one.birth_date]
    sure = [one for one in born if not _differs(person, one)]
    possible = tuple(born or [one for one in alike if not _differs(person, one)])
    settled = sure[0].athlete_id if len(sure) == 1 and len(born) == 1 else ""
    return Match(person=person, earlier=alike, sure=settled, possible=possible)


def _differs(one: RosterPerson, other: RosterPerson) -> bool:
    pairs = (
        (one.birth_date, other.birth_date),
        (one.sex, other.sex),
        (one.graduation_year, other.graduation_year),
    )
    return any(a is not None and b is not None and a != b for a, b in pairs)


def with_people(earlier: Sequence[RosterPerson], more: Iterable[RosterPerson]) -> tuple[RosterPerson, ...]:
    """Earlier athletes with those of one more roster, whose word on an athlete is the later one."""
    return tuple({one.athlete_id: one for one in (*earlier, *more)}.values())


def another_id(name: str, taken: Iterable[str]) -> str:
    """A made id for one more athlete of a name, the first that nobody has."""
    used, n = set(taken), 0
    while (result := made_id(name, n)) in used:
        n += 1
    return result


def unsettled(
    people: Sequence[RosterPerson], earlier: Sequence[RosterPerson], settled: Mapping[str, str]
) -> str:
    """The first name whose made id may be another athlete's, with the reason; '' where there is none.

    `settled` holds the ids given by a look, by the mark of the name.
    """
    for person in people:
        if name_mark(person.name) in settled:
            continue
        beside = match(person, earlier)
        if beside.earlier and beside.sure != person.athlete_id:
            others = "; ".join(f"{one.athlete_id} {one.marks}".strip() for one in beside.earlier)
            known = person.marks or "nothing else known"
            return f"{person.name!r} ({known}) is a name of an earlier roster too ({others})"
    return ""
