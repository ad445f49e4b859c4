"""The family page as text in reading order: web page and sheet lay out these very strings. Plain words only."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from latewood.pipeline.catalogue.scales import is_timed, pace
from latewood.pipeline.pages.family.draw import draw_rail
from latewood.pipeline.pages.family.model import BETTER, FEWEST_DAYS, OPEN, SAME, WORSE, Family, FamilyRail
from latewood.pipeline.pages.words import count, day

HEADS = {
    BETTER: "What got better",
    SAME: "What stayed about the same",
    WORSE: "What slipped back",
    OPEN: "What we can't tell yet",
}
NEXT, CARE = "What comes next", "Good to know"
KEY = (
    "How to read the lines: the ring is the start, the filled mark is now. Right is better. The thin line is the range "
    "it could be. Inside the gray band, we can't tell it from no change. Start and now come from a line through all "
    "test days. So they can differ from one test."
)
NO_FOCUS = "Your coach will talk with you about the next step."
CARES = (
    "One test is one day. Small ups and downs are normal.",
    "This page shows what changed. It does not show why.",
    "Young bodies grow at their own pace. Some grow early and some grow late. Both are fine.",
)
CARE_MASS = (
    "A bigger number on the scale is not a goal. Talk with a doctor or a dietitian before you try to gain or lose "
    "weight."
)
CARE_THROW = (
    "Throwing hard when you are tired can hurt your arm. Follow the pitch limits of your league. This page does not "
    "say that it is safe to throw."
)
CARE_PRIVACY = (
    "This page is for you and your family. You can take back your OK at any time. We can't call back a page that you "
    "already have."
)
ONE_SIDED = (
    "This may be real. But on so few test days luck can do the same. More test days will help to tell."
)
SECONDS = "seconds"


@dataclass(frozen=True, slots=True, kw_only=True)
class RailLine:
    """One measure: its name, what it is, one or two sentences, and its drawing."""

    name: str
    plain: str
    sentence: str
    days: str
    chart: str
    chart_alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyPart:
    """One heading with its measures."""

    head: str
    lines: tuple[RailLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyPage:
    """All words of the page, in the order in which they are read."""

    banner: str
    program: str
    kind: str
    name: str
    facts: str
    key: str
    parts: tuple[FamilyPart, ...]
    body: tuple[str, ...]
    next_head: str
    steps: tuple[str, ...]
    care_head: str
    cares: tuple[str, ...]
    contact: str
    provenance: str


def make_page(family: Family) -> FamilyPage:
    """Return the words of a family page; headings without a measure are left out."""
    parts = [
        FamilyPart(head=head, lines=tuple(_line(one) for one in family.rails if one.kind == kind))
        for kind, head in HEADS.items()
    ]
    body = [f"{one.label}: {one.text} on {day(one.on)}." for one in family.body]
    return FamilyPage(
        banner="Invented data: no person here is real" if family.invented else "",
        program=family.program,
        kind="For the athlete and the family",
        name=family.name,
        facts=" · ".join(x for x in (family.camp, f"{day(family.first_on)} to {day(family.last_on)}") if x),
        parts=tuple(part for part in parts if part.lines),
        key=KEY,
        body=tuple(body),
        next_head=NEXT,
        steps=_steps(family),
        care_head=CARE,
        cares=_cares(family),
        contact=f"Questions? Ask your coach, or the program: {family.contact}",
        provenance=f"Made on {day(family.made_on)} · build {family.build_id}",
    )


def sentences_of(page: FamilyPage) -> tuple[str, ...]:
    """The sentences the program wrote, without names and the coach's own words: for the reading level."""
    text = [line.sentence for part in page.parts for line in part.lines]
    return (*text, page.key, *page.steps[1:], *page.cares)


def page_texts(page: FamilyPage) -> Iterator[str]:
    """Every string of the page in reading order, as a reader of the file meets them."""
    yield from (t for t in (page.banner, page.program, page.kind, page.name, page.facts) if t)
    yield page.key
    for part in page.parts:
        yield part.head
        for line in part.lines:
            yield from (t for t in (line.name, line.plain, line.sentence, line.days) if t)
    yield from page.body
    yield page.next_head
    yield from (words for words in page.steps if words)
    yield page.care_head
    yield from page.cares
    yield page.contact
    yield page.provenance


def _line(rail: FamilyRail) -> RailLine:
    sentence = _sentence(rail)
    if rail.estimated:
        sentence += f" {_estimated(rail)}"
    return RailLine(
        name=rail.label,
        plain=rail.plain,
        sentence=sentence,
        days=f"{count(rail.days, 'test day')}, {day(rail.first_on)} to {day(rail.last_on)}"
        + (f"; {rail.method}" if rail.method else ""),
        chart=draw_rail(rail),
        chart_alt=f"{rail.label}: {sentence}",
    )


def _sentence(rail: FamilyRail) -> str:
    if rail.change is None or rail.start is None or rail.end is None or rail.low is None or rail.high is None:
        if rail.mixed:
            return "The way we test was changed during the stay. So we can't compare the test days."
        return f"You had {count(rail.days, 'test day')} so far. We need more to see a change."
    went = f"You went from about {_value(rail, rail.start)} to about {_value(rail, rail.end)}."
    judged = rail.kind in {BETTER, WORSE}
    if judged and rail.change and _is_timed(rail):
        went = f"{went[:-1]}: {_signed(rail, rail.change)}."
    if rail.kind == BETTER:
        return f"{went} This is a real step up. Test days alone do not differ that much."
    if rail.kind == WORSE:
        return f"{went} This is a real step down. Ask your coach what to do about it."
    if rail.kind == SAME:
        return f"{went} That is about the same. Two test days can differ by more than that."
    low, high = (_signed(rail, value) for value in (rail.low, rail.high))
    if rail.days < FEWEST_DAYS:
        return f"{went} The true change could be {low} to {high}. We need {FEWEST_DAYS} test days to be sure."
    if (
        rail.low > 0 or rail.high < 0
    ):  # not clear though the range is on one side: repeated looks ask for more
        return f"{went} {ONE_SIDED}"
    return f"{went} The true change could be {low} to {high}. More test days will help to tell."


def _estimated(rail: FamilyRail) -> str:
    which = (
        "These numbers"
        if rail.estimated == rail.days
        else f"On {count(rail.estimated, 'test day')} the number"
    )
    verb = "are" if rail.estimated == rail.days else "is"
    return f"{which} {verb} worked out from a set of lifts. The last set was {rail.estimated_from}."


def _value(rail: FamilyRail, value: float) -> str:
    return f"{_number(rail, value)} {SECONDS if rail.unit == 's' else rail.unit}".strip()


def _signed(rail: FamilyRail, value: float) -> str:
    number = _value(rail, abs(value))
    if round(value, rail.decimals) == 0:
        return "nothing"
    if _is_timed(rail):
        return f"{number} {pace(value)}"
    return f"{number} {'more' if value > 0 else 'less'}"


def _is_timed(rail: FamilyRail) -> bool:
    return is_timed("lower" if rail.lower_is_better else "", rail.unit)


def _number(rail: FamilyRail, value: float) -> str:
    return f"{value:.{rail.decimals}f}".replace("-", "\u2212")


def _steps(family: Family) -> tuple[str, ...]:
    """The coach's own words first, then what will show it; or that the coach will talk about it."""
    step = family.next_step
    if step is None:
        return ("", NO_FOCUS)
    what = f" ({step.plain})" if step.plain else ""
    label = step.label[0].lower() + step.label[1:]
    return (
        f"Your coach writes: “{step.text}”",
        f"We will look at your {label}{what} again on {day(step.until)}.",
    )


def _cares(family: Family) -> tuple[str, ...]:
    result: Sequence[str] = CARES
    more = ([CARE_MASS] if family.weighs else []) + ([CARE_THROW] if family.throws else [])
    return (*result, *more, CARE_PRIVACY)
