"""The case as a family may have it: made of what the family page may show, and of words marked for the family."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.pipeline.ingest.logs.case_words import CHANGED, MASS, NEXT, SEEN, WORKED, CaseWords
from latewood.pipeline.pages.case.make import HEADS, coach_words
from latewood.pipeline.pages.case.page import CaseLine, CasePage, CasePart
from latewood.pipeline.pages.family.model import Family
from latewood.pipeline.pages.family.page import HEADS as CHANGE_HEADS
from latewood.pipeline.pages.family.page import NEXT as NEXT_HEAD
from latewood.pipeline.pages.family.page import make_page
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
    shown = {key: one for key, one in words.items() if one.family and (key != MASS or family.weighs)}
    begun = [
        CaseLine(
            name=rail.label,
            text=f"about {rail.start:.{rail.decimals}f} {rail.unit}".strip() + ".",
            source=f"{count(rail.days, 'test day')}, from {day(rail.first_on)}",
        )
        for rail in family.rails
        if rail.start is not None
    ]
    focus = [CaseLine(text=f"“{one.text}”", source=f"Your coach, {day(one.on)}") for one in worked]
    heads = [head for head in CHANGE_HEADS.values() if any(part.head == head for part in page.parts)]
    changed = [
        CasePart(
            key="",
            head=part.head,
            lines=tuple(CaseLine(name=line.name, text=line.sentence, source=line.days) for line in part.lines),
            words=coach_words(shown.get(CHANGED)) if part.head == heads[0] else None,
        )
        for part in page.parts
    ]  # fmt: skip
    sizes = tuple(CaseLine(text=text) for text in page.body)
    parts = (
        CasePart(
            key=SEEN, head=START, lines=tuple(begun) or (CaseLine(text="We need more test days to say."),),
            words=coach_words(shown.get(SEEN)),
        ),
        CasePart(
            key=WORKED, head=HEADS[WORKED], lines=tuple(focus) or (CaseLine(text="No focus was written down."),),
            words=coach_words(shown.get(WORKED)),
        ),
        *changed,
        *((CasePart(key=MASS, head="Your body", lines=sizes, words=coach_words(shown.get(MASS))),) if sizes else ()),
        CasePart(
            key=NEXT, head=NEXT_HEAD, lines=tuple(CaseLine(text=text) for text in page.steps if text),
            words=coach_words(shown.get(NEXT)),
        ),
    )  # fmt: skip
    return CasePage(
        banner=page.banner, program=page.program, kind="Your stay, from start to end", name=page.name,
        facts=page.facts, parts=parts, cares=(*page.cares, page.contact), provenance=page.provenance,
        made_on=family.made_on, build_id=family.build_id,
    )  # fmt: skip
