"""Whom the names of a file mean: as they stand, turned round, shortened, misspelt; never decided between two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rapidfuzz import fuzz

from latewood.pipeline.ingest.look.proposal import NOBODY, FileQuestion, Known, NameLook
from latewood.pipeline.ingest.look.words import NICKNAMES
from latewood.pipeline.warehouse.lookups import ids_of, plain_name
from latewood.pipeline.warehouse.slots import is_slot

NEAR = 70  # of 100: less alike is not offered
OFFERED = 4


def name_key(text: str) -> str:
    """The key of the question about one name."""
    return f"name {text}"


def look_at_names(
    texts: Sequence[str], known: Known, answers: Mapping[str, str]
) -> tuple[list[NameLook], list[FileQuestion]]:
    """Each distinct name that does not fit as it stands, and the questions that the likeness of names leaves open."""
    looks, questions = [], []
    for text in dict.fromkeys(t for t in texts if t):
        ids = ids_of(text, known.names)
        if len(ids) == 1:
            continue
        turned = () if ids or is_slot(text) else sure_ids(text, known)
        candidates = [(i, 100) for i in (ids or turned)] or ([] if is_slot(text) else near(text, known))
        chosen = turned[0] if len(turned) == 1 else ""
        reason = "the same name, written another way"
        if not chosen or name_key(text) in answers:
            question = _question(text, candidates, known, answers, both=len(ids) > 1)
            questions.append(question)
            chosen = "" if question.answer in ("", NOBODY) else id_in(question.answer)
            reason = "your answer" if chosen else "nobody yet"
        looks.append(
            NameLook(
                text=text, rows=texts.count(text), candidates=tuple(candidates), chosen=chosen, reason=reason
            )
        )
    return looks, questions


def choice_of(athlete_id: str, known: Known) -> str:
    """How an athlete stands among the choices."""
    return f"{athlete_id}: {known.shown.get(athlete_id, '')}"


def id_in(choice: str) -> str:
    """The id in a choice, or an id given alone."""
    return choice.split(": ", 1)[0]


def _question(
    text: str,
    candidates: Sequence[tuple[str, int]],
    known: Known,
    answers: Mapping[str, str],
    *,
    both: bool,
) -> FileQuestion:
    first = [choice_of(i, known) for i, _ in candidates]
    rest = [choice_of(i, known) for i in sorted(known.shown) if choice_of(i, known) not in first]
    given = answers.get(name_key(text), "")
    given = next((c for c in (*first, *rest) if given == id_in(c)), given)
    clear = len(candidates) == 1 or (len(candidates) > 1 and candidates[0][1] >= candidates[1][1] + 10)
    why = f"{len(candidates)} athletes carry this name" if both else "not on the roster as written"
    return FileQuestion(
        key=name_key(text),
        text=f"Who is {text!r}? ({why})",
        choices=(*first, *rest, NOBODY),
        proposed=first[0] if first and clear and not both and candidates[0][1] >= 80 else "",
        answer=given if given in (*first, *rest, NOBODY) else "",
    )


def forms_of(text: str) -> set[str]:
    """A name as it may be written: last name first, without middle initials, by its short or long first name."""
    base = _in_order(text)
    bare = _without_initials(base)
    first, *rest = bare.split() or [""]
    short = {
        other for names in NICKNAMES if first in names.split() for other in names.split() if other != first
    }
    return {base, bare, *(" ".join([other, *rest]) for other in short)}


def sure_ids(text: str, known: Known) -> tuple[str, ...]:
    """Athletes whose name it is but for order, accents, case and middle initials that only one of the two gives.

    A short first name is never sure, nor are two different middle initials.
    """
    base = _in_order(text)
    return tuple(i for i, name in sorted(known.shown.items()) if _is_same(base, plain_name(name)))


def _is_same(one: str, other: str) -> bool:
    bare = _without_initials(one), _without_initials(other)
    return one == other or (bare[0] == bare[1] and bool({one, other} & set(bare)))


def _in_order(text: str) -> str:
    """A name in plain letters, the first name first."""
    last, comma, first = text.partition(",")
    return plain_name(f"{first} {last}" if comma else text)


def _without_initials(plain: str) -> str:
    words = plain.split()
    return " ".join(w for i, w in enumerate(words) if len(w) > 1 or i in (0, len(words) - 1))


def near(text: str, known: Known) -> list[tuple[str, int]]:
    """The athletes whose names are most alike, with a score of 100."""
    forms = forms_of(text)
    scored = []
    for athlete_id, name in known.shown.items():
        theirs = forms_of(name)
        score = max(fuzz.token_sort_ratio(a, b) for a in forms for b in theirs)
        first, _, last = plain_name(name).partition(" ")
        if last and any(f in {f"{first[0]} {last}", f"{first} {last[0]}"} for f in forms):
            score = max(score, 90.0)
        elif any(f in {first, last} for f in forms):
            score = max(score, 80.0)
        scored.append((athlete_id, round(min(score, 99.0))))
    best = sorted(scored, key=lambda pair: (-pair[1], pair[0]))[:OFFERED]
    return [pair for pair in best if pair[1] >= NEAR]
