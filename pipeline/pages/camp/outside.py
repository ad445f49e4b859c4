"""The camp review for outsiders: averages of at least eight athletes, no single athlete, no name, no small count.

What is left out and why: single athletes, leavers and exit tests by number, verdict counts and the number divided by
mass gain, since a count under eight, or the rest that it leaves, can point at a person. A way of dividing the camp is
shown only where every part of it has eight with a change, so that no part can be had by subtraction. Training groups
are left out: the program names them, often after a coach.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.pages.camp.groups import EVERYBODY, TRAINED
from latewood.pipeline.pages.camp.model import CampPart, CampReview, Gain, GroupSheet
from latewood.pipeline.pages.camp.sentences import (
    TOGETHER,
    change_words,
    level_words,
    named,
    scale_of_gain,
    second_sentence,
)
from latewood.pipeline.pages.words import PrintScale, day, step_of
from latewood.pipeline.stats.engine.group_means import FEWEST

KIND = "Camp review for outsiders"
HEADS = ("Measure and method", "Average change", "Interval", "Athletes", "Weeks")
PART_HEADS = ("Measure and method", "Part of the camp", "Mean of own changes", "Interval", "Athletes")
RULE = (
    f"Every number rests on at least {FEWEST} athletes. What fewer were measured in, and parts of the camp with fewer, "
    "are left out, with every part of the same kind. Those who left early count in the averages."
)
CAUTION = (
    "No number here says what caused a change: nobody was measured who did not attend. The averages are estimates by a "
    "mixed model and allow for the first test day; parts are described, not compared."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """What outsiders may see of a camp: the text of each cell in reading order, and the numbers for the tables."""

    banner: str
    program: str
    kind: str
    name: str
    dates: str
    sentences: tuple[str, ...]
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    part_heads: tuple[str, ...]
    parts: tuple[tuple[str, ...], ...]
    rule: str
    breaks: tuple[str, ...]
    caution: str
    provenance: str
    made_on: date


def make_outside(review: CampReview) -> Outside:
    """Return the version of a review for outsiders.

    Raises SummaryError where no measure has eight athletes.
    """
    gains = shown_gains(review)
    if not gains:
        raise SummaryError(f"no measure has {FEWEST} athletes, so there is nothing that outsiders may see")
    first = [(sheet.key, sheet.line) for sheet in review.groups[:1]]
    lead = next((one for one in gains if (one.key, one.line) in first), gains[0])
    return Outside(
        banner="Invented data: no person here is real" if review.invented else "",
        program=review.program,
        kind=KIND,
        name=review.label,
        dates=f"{day(review.starts_on)} to {day(review.ends_on)}"
        + (", still running" if review.running else ""),
        sentences=(_first(lead, review.label), second_sentence(lead)),
        heads=HEADS,
        rows=tuple(_row(one) for one in gains),
        part_heads=PART_HEADS,
        parts=tuple(_part(sheet, group) for sheet in review.groups for group in shown_parts(sheet)),
        rule=RULE,
        breaks=tuple(words for words in review.breaks if not names_few(words)),
        caution=CAUTION,
        provenance=(
            f"Made on {day(review.made_on)} · build {review.build_id} · catalogue {review.catalogue} · software "
            f"{review.version}"
        ),
        made_on=review.made_on,
    )


def shown_gains(review: CampReview) -> list[Gain]:
    """The lines with an average of at least eight athletes."""
    return [one for one in review.gains if one.gain is not None and one.measured >= FEWEST]


def shown_parts(sheet: GroupSheet) -> list[CampPart]:
    """The parts of the camp in one line whose whole kind has at least eight athletes in every part."""
    kinds: dict[str, list[CampPart]] = {}
    for group in sheet.groups:
        if group.name != EVERYBODY and group.kind != TRAINED:
            kinds.setdefault(group.kind, []).append(group)
    return [
        group
        for groups in kinds.values()
        if all(len(one.singles) >= FEWEST and one.mean is not None for one in groups)
        for group in groups
    ]


def outside_texts(made: Outside) -> tuple[str, ...]:
    """Every string of the sheet in reading order."""
    parts = ((made.part_heads, *made.parts)) if made.parts else ()
    cells = [cell for row in (made.heads, *made.rows, *parts) for cell in row if cell]
    head = [text for text in (made.banner, made.program, made.kind, made.name, made.dates) if text]
    return (*head, *made.sentences, made.rule, *cells, *made.breaks, made.caution, made.provenance)


def gain_cells(review: CampReview) -> list[tuple[str | int | float | None, ...]]:
    """A row a line for the table: camp, measure, method, unit, n, weeks, gain, interval, level, build."""
    return [
        (
            review.label, one.label, way_of(one.method), one.unit, one.measured, one.weeks, one.gain, one.low, one.high,
            round(one.level * 100, 1), review.build_id,
        )
        for one in shown_gains(review)
    ]  # fmt: skip


def part_cells(review: CampReview) -> list[tuple[str | int | float | None, ...]]:
    """A row a part and line for the table: camp, measure, method, unit, kind, part, n, mean, interval, level, build."""
    return [
        (
            review.label, sheet.label, way_of(sheet.method), sheet.unit, group.kind, group.name, len(group.singles),
            group.mean, group.low, group.high, round(group.level * 100, 1), review.build_id,
        )
        for sheet in review.groups
        for group in shown_parts(sheet)
    ]  # fmt: skip


def _first(one: Gain, camp: str) -> str:
    measure = named(replace(one, method=way_of(one.method)))
    return (
        f"{one.measured} athletes of {camp} were measured in {measure}, and over {one.weeks or 0:.1f} weeks they "
        f"{change_words(one)}: that is what changed ({TOGETHER}), not what the camp brought about."
    )


def _row(one: Gain) -> tuple[str, ...]:
    step = step_of(scale_of_gain(one), one.better)
    span = step.span(one.low or 0.0, one.high or 0.0)
    return (
        _named(one.label, one.method), step.words(one.gain or 0.0), f"{level_words(one.level)}: {span}",
        str(one.measured), f"{one.weeks or 0:.1f}",
    )  # fmt: skip


def _part(sheet: GroupSheet, group: CampPart) -> tuple[str, ...]:
    step = step_of(PrintScale(unit=sheet.unit, factor=1.0, decimals=sheet.decimals), sheet.better)
    span = step.span(group.low or 0.0, group.high or 0.0)
    return (
        _named(sheet.label, sheet.method), group.name, step.words(group.mean or 0.0),
        f"{level_words(group.level)}: {span}", str(len(group.singles)),
    )  # fmt: skip


def _named(label: str, method: str) -> str:
    return f"{label} ({way_of(method)})" if method else label


def way_of(method: str) -> str:
    """The method; that values were estimated is said, how many were is not."""
    parts = method.split("; ")
    kept = [part for part in parts if " values estimated from sets" not in part]
    return "; ".join(
        kept + ["some values estimated from sets of several repetitions"] * (len(kept) < len(parts))
    )


def names_few(words: str) -> bool:
    """Whether a sentence names fewer athletes than outsiders may see."""
    return any(int(n) < FEWEST for n in re.findall(r"(\d+) athletes", words))
