"""The case as a family may have it: made of what the family page may show, and of words marked for the family."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.pipeline.ingest.consent.health import word_of_health
from latewood.pipeline.ingest.logs.case_words import CHANGED, MASS, NEXT, SEEN, WORKED, CaseWords
from latewood.pipeline.pages.case.make import HEADS, coach_words
from latewood.pipeline.pages.case.page import CaseLine, CasePage, CasePart
from latewood.pipeline.pages.family.model import Family
from latewood.pipeline.pages.family.page import NEXT as NEXT_HEAD
from latewood.pipeline.pages.family.page import FamilyPage, make_page
from latewood.pipeline.pages.words import count, day

START = "Where you began"


@dataclass(frozen=True, slots=True, kw_only=True)
class StayFocus:
    """What was worked on from a day on."""

    on: date
    text: str


def make_family_case(family: Family, worked: Sequence[StayFocus], words: Mapping[str, CaseWords]) -> CasePage:
    """Return the case of the latest stay for the family: no peers, no projections, no ratings, no link with mass.

    Everything measured comes from the family page, so a measure, a size of the body or a name that the consent does
    not cover is not here either. Of the coach's words only those marked for the family; words on body mass only where
    body mass itself may be shown.
    """
    page = make_page(family)
    shown = {key: one for key, one in words.items() if _may_leave(one) and (key != MASS or family.weighs)}
    begun = _begun(family) or (CaseLine(text="We need more test days to say."),)
    focus = tuple(CaseLine(text=f"“{one.text}”", source=f"Your coach, {day(one.on)}") for one in worked)
    sizes = tuple(CaseLine(text=text) for text in page.body)
    steps = tuple(CaseLine(text=text) for text in page.steps if text)
    none = (CaseLine(text="No focus was written down."),)
    given = (
        CasePart(key=SEEN, head=START, lines=begun, words=coach_words(shown.get(SEEN))),
        CasePart(key=WORKED, head=HEADS[WORKED], lines=focus or none, words=coach_words(shown.get(WORKED))),
        *_changed(page, shown.get(CHANGED)),
        CasePart(key=MASS, head="Your body", lines=sizes, words=coach_words(shown.get(MASS))),
        CasePart(key=NEXT, head=NEXT_HEAD, lines=steps, words=coach_words(shown.get(NEXT))),
    )
    return CasePage(
        banner=page.banner, program=page.program, kind="Your stay, from start to end", name=page.name,
        facts=page.facts, parts=tuple(part for part in given if part.lines), cares=(*page.cares, page.contact),
        provenance=page.provenance, made_on=family.made_on, build_id=family.build_id,
    )  # fmt: skip


def _may_leave(one: CaseWords) -> bool:
    """Words marked for the family that say nothing of health, whenever they were written."""
    return one.family and not word_of_health(one.text)


def _begun(family: Family) -> tuple[CaseLine, ...]:
    """Where the line of each measure begins."""
    return tuple(
        CaseLine(
            name=rail.label,
            text=f"about {rail.start:.{rail.decimals}f} {rail.unit}".strip() + ".",
            source=f"{count(rail.days, 'test day')}, from {day(rail.first_on)}",
        )
        for rail in family.rails
        if rail.start is not None
    )


def _changed(page: FamilyPage, words: CaseWords | None) -> tuple[CasePart, ...]:
    """The headings of the family page with their sentences, the coach's words at the first."""
    return tuple(
        CasePart(
            key="",
            head=part.head,
            lines=tuple(CaseLine(name=one.name, text=one.sentence, source=one.days) for one in part.lines),
            words=coach_words(words) if part is page.parts[0] else None,
        )
        for part in page.parts
    )
