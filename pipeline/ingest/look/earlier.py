"""Names of a roster without ids that stand on an earlier roster: given by birth date, told apart, or asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from latewood.pipeline.ingest.files.mapping import Mapping as FileMapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.files.tidy import name_mark
from latewood.pipeline.ingest.look.proposal import FileQuestion, Known
from latewood.pipeline.ingest.people.earlier import Match, RosterPerson, another_id, match, person_of
from latewood.pipeline.ingest.people.records import Context, PeopleFile, read_people

ANOTHER = "another athlete"
ALL_SAME, SAY_EACH = "all are the same athletes", "say each"
TOGETHER = "earlier roster"  # the key of the question about all names at once
GIVEN_IDS = "[given_ids]"
MANY = 3  # names: above, they are asked together first


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierLook:
    """What the names of a roster come to: ids by the marks of names, and what is asked; `people` with these ids."""

    ids: Mapping[str, str]
    people: tuple[RosterPerson, ...] = ()
    questions: tuple[FileQuestion, ...] = ()
    notes: tuple[str, ...] = ()


def look_at_earlier(
    name: str, table: TextTable, mapping: FileMapping, known: Known, answers: Mapping[str, str]
) -> EarlierLook:
    """Compare the rows of a roster with the athletes of earlier ones; nothing where its ids are its own."""
    context = Context(athletes={}, camps={}, catalogue=known.catalogue, time_zone=known.time_zone)
    roster = PeopleFile(kind="roster", file_name=name, import_id="", table=table, mapping=mapping)
    people = [person_of(r) for r in read_people(roster, context)[0]]
    if not mapping.form.make_ids:
        return EarlierLook(ids={}, people=tuple(people))
    matches = [match(person, known.people) for person in people]
    asked = [one for one in matches if one.possible and not one.sure]
    together, questions = _together(asked, answers)
    ids, notes, given = {}, [], []
    for one in matches:
        chosen, note = one.sure, ""
        if one.earlier and not one.sure:
            question = _question(one)
            answer = _answer(question, answers)
            if question.needed and not answer and together == ALL_SAME and len(one.possible) == 1:
                answer = question.choices[0]
            elif not question.needed or together or len(asked) <= MANY:
                questions.append(replace(question, answer=answer))
            chosen, note = _chosen(one, answer or ("" if question.needed else question.proposed), known)
        given.append(replace(one.person, athlete_id=chosen or one.person.athlete_id))
        if chosen and (chosen != one.person.athlete_id or not one.sure):
            ids[name_mark(one.person.name)] = chosen
        notes += [note] if note else []
    return EarlierLook(ids=ids, people=tuple(given), questions=tuple(questions), notes=tuple(notes))


def _together(asked: Sequence[Match], answers: Mapping[str, str]) -> tuple[str, list[FileQuestion]]:
    """One question for many names, and its answer; 'say each' where any of them was answered by itself."""
    if len(asked) <= MANY:
        return "", []
    given = answers.get(TOGETHER, "")
    if not given and any(_answer(_question(one), answers) for one in asked):
        given = SAY_EACH
    question = FileQuestion(
        key=TOGETHER,
        text=f"{len(asked)} names are on an earlier roster too, and no birth date tells: the same athletes?",
        choices=(ALL_SAME, SAY_EACH),
        proposed=ALL_SAME if all(_same_class(one) for one in asked) else "",
        answer=given if given in (ALL_SAME, SAY_EACH) else "",
    )
    return question.answer, [question]


def _question(one: Match) -> FileQuestion:
    """Whether it is an athlete of that name: needed where nothing tells them apart, else offered."""
    person, apart = one.person, not one.possible
    others = one.earlier if apart else one.possible
    choices = [f"{other.athlete_id}: {other.name}, {_known(other)}" for other in others]
    why = "Theirs differ, so it is taken for another." if apart else "No birth date tells."
    return FileQuestion(
        key=f"earlier {person.name}",
        text=f"Is {person.name!r} ({_known(person)}) an athlete of an earlier roster? {why}",
        choices=(*choices, ANOTHER),
        proposed=ANOTHER if apart else choices[0] if _same_class(one) else "",
        answer="",
        needed=not apart,
    )


def _known(person: RosterPerson) -> str:
    return person.marks or "nothing else known"


def _same_class(one: Match) -> bool:
    """Whether name and graduation year are those of the one athlete it may be: likely, and still asked."""
    year = one.person.graduation_year
    return len(one.possible) == 1 and year is not None and year == one.possible[0].graduation_year


def _answer(question: FileQuestion, answers: Mapping[str, str]) -> str:
    given = answers.get(question.key, "")
    return next((c for c in question.choices if given and given in (c, c.split(": ", 1)[0])), "")


def _chosen(one: Match, answer: str, known: Known) -> tuple[str, str]:
    """The id an answer gives, and the words for it where it is one more athlete of the name; '' while it is open."""
    if answer != ANOTHER:
        return answer.split(": ", 1)[0], ""
    person = one.person
    # Among the names is every id that was joined into another: nobody else may get it.
    given = another_id(
        person.name, {*known.shown, *known.names, *(other.athlete_id for other in known.people)}
    )
    others = "; ".join(f"{other.athlete_id} ({_known(other)})" for other in one.earlier)
    return (
        given,
        f"{person.name!r} ({_known(person)}) is another athlete than {others}, and gets the id {given}.",
    )


def with_ids(text: str, ids: Mapping[str, str]) -> str:
    """A mapping's text with the ids given to names; these are of this file, and found by no other."""
    if not ids:
        return text
    lines = [f'"{mark}" = "{given}"' for mark, given in sorted(ids.items())]
    return "\n".join([text.rstrip("\n"), "", GIVEN_IDS, *lines]) + "\n"
