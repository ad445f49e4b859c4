"""What goes with body mass, and what comes next, as sentences from the rows of a stay."""

from __future__ import annotations

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.chances import chance_text
from latewood.pipeline.pages.case.page import CaseLine
from latewood.pipeline.pages.case.record import CaseRecord
from latewood.pipeline.pages.case.ways import full_name, head_measures, label_of, main_line, ways_of
from latewood.pipeline.pages.words import count, day
from latewood.pipeline.stats.links.results import AthleteLink

NEARLY = 0.5  # a chance from which one more test day is worth a line
HIDDEN = "Body mass is hidden for this athlete, so nothing of it is on this page."


def mass_lines(record: CaseRecord, units: str) -> tuple[CaseLine, ...]:
    """The link rows of the head measures in their main lines, and what cannot be separated."""
    if record.hides_mass:
        return (CaseLine(text=HIDDEN),)
    wanted = [(key, main_line(record, key)[0].line) for key in head_measures(record)]
    links = {(one.measure, one.line): one for one in record.links}
    lines = [_linked(record, links[key], units) for key in wanted if key in links]
    if not lines:
        text = "Nothing can be said: it takes weigh-ins over the stay and test days of an output."
        return (CaseLine(text=text),)
    brackets = dict.fromkeys(
        one.bracket.replace(", which cannot be separated", "")
        for one in record.account
        if one.row in {"mass", "strength", "time"} and one.bracket and (one.measure, one.line) in wanted
    )
    if brackets:
        lines.append(CaseLine(name="What cannot be separated", text=f"{'; '.join(brackets)}."))
    return tuple(lines)


def _linked(record: CaseRecord, one: AthleteLink, units: str) -> CaseLine:
    name = full_name(record, one.measure, one.line)
    numbers = (
        one.observed, one.observed_low, one.observed_high, one.expected, one.expected_low, one.expected_high,
        one.mass_change, one.mass_change_low, one.mass_change_high,
    )  # fmt: skip
    source = f"{count(one.n_sessions, 'test day')} of this stay"
    if one.verdict == "refused" or any(number is None for number in numbers):
        return CaseLine(
            name=name,
            text=f"what goes with mass cannot be said ({one.reason or 'too little was measured'}).",
            source=source,
            reason=one.reason,
        )
    known = [float(number) for number in numbers if number is not None]
    ways, mass = ways_of(record, one.measure, units), ways_of(record, handles.BODY_MASS, units)
    unsure = ", which may be zero," if known[4] <= 0.0 <= known[5] else ""
    return CaseLine(
        name=name,
        text=f"of {ways.change(*known[:3])}, {ways.change(*known[3:6])}{unsure} is what usually goes with "
        f"{mass.change(*known[6:])} of body mass over the same test days.",
        source=source,
    )


def next_lines(record: CaseRecord, units: str) -> tuple[CaseLine, ...]:
    """What the records say of what comes next: projections of the head measures, test-again advice, the focus."""
    heads, today = head_measures(record), record.today
    ahead = [
        one
        for one in record.projections
        if one.kind == "date" and one.verdict == "shown" and one.measure in heads
        and one.target_on is not None and one.target_on > today
    ]  # fmt: skip
    last = {(one.measure, one.line): one for one in sorted(ahead, key=lambda one: one.target_on or today)}
    lines = []
    for one in sorted(last.values(), key=lambda one: (heads.index(one.measure), one.line)):
        ways = ways_of(record, one.measure, units)
        lines.append(
            CaseLine(
                name=full_name(record, one.measure, one.line),
                text=f"a test on {day(one.target_on or today)} is expected to show "
                f"{ways.value(one.value or 0.0)} ({ways.range(one.low or 0.0, one.high or 0.0)}).",
                source=f"projection of {day(one.made_on)}, {count(one.n_sessions, 'session')}",
            )
        )
    lines += _again(record)
    lines += [
        CaseLine(
            text=f"The focus is looked at again on {day(one.until)}, in {label_of(record, one.measure)}."
        )
        for one in record.focus[-1:]
        if one.until > today and one.on >= record.stay.arrived_on
    ]
    return tuple(lines) or (
        CaseLine(text="The records say nothing of what comes next: no projection, no focus."),
    )


def _again(record: CaseRecord) -> list[CaseLine]:
    near = [one for one in record.retests if one.extra == 1 and one.chance_clear >= NEARLY]
    near.sort(key=lambda one: (-one.chance_clear, one.measure, one.line))
    return [
        CaseLine(
            name=full_name(record, one.measure, one.line),
            text="one more test day makes the change clear with a chance of "
            f"{chance_text(one.chance_clear)}.",
            source=f"test-again advice, {count(one.n_sessions, 'session')}",
        )
        for one in near[:2]
    ]
