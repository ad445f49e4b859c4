"""What goes with added mass and with added strength across the program, and which of the two goes with more."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from latewood.dashboard.text.wording import (
    count_of,
    full_day,
    level_text,
    mass_scale,
    plain_number,
    reading_order,
    signed_number,
)
from latewood.dashboard.views.athlete.mass_link import Amount, per_kg_sentence
from latewood.dashboard.views.cohorts.link_camps import over_camps_sentence
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.links.results import (
    LinkSpread,
    MassLink,
    MassOrStrength,
    RelativeStrength,
    StrengthLink,
)

STEP = 10.0  # strength is told per ten units: one is less than a plate


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkBlock:
    """One output: bars of what goes with a usual gain of each, and the sentences; no bars where refused."""

    name: str
    rows: tuple[Amount, ...]
    sentences: tuple[str, ...]
    basis: str
    refused: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramLinks:
    """What goes with mass and strength over the whole program, as the build estimated it."""

    mass: Iterable[MassLink]
    strength: Iterable[StrengthLink]
    carried: Iterable[MassOrStrength]
    spreads: Iterable[LinkSpread] = ()


def build_links(links: ProgramLinks, families: Sequence[str], lookup: Lookup) -> tuple[LinkBlock, ...]:
    """One block per output line of the picked kinds, in display order, those without any number last."""
    over_camps = {(k.measure, k.line): k for k in links.spreads}
    own_mass = {(k.measure, k.line): k for k in links.mass if (k.scope, k.adjustment) == ("program", "time")}
    own_strength = {(k.measure, k.line): k for k in links.strength if k.adjustment == "time"}
    blocks = []
    for row in links.carried:
        key = (row.measure, row.line)
        if row.measure not in lookup.measures or lookup.measures[row.measure].family not in families:
            continue
        block = _block(row, own_mass.get(key), own_strength.get(key), over_camps.get(key), lookup)
        order = (block.refused, reading_order(lookup.measures[row.measure]), -row.n_athletes, row.line)
        blocks.append((order, block))
    return tuple(block for _, block in sorted(blocks, key=lambda pair: pair[0]))


def _block(
    row: MassOrStrength,
    mass: MassLink | None,
    strength: StrengthLink | None,
    spread: LinkSpread | None,
    lookup: Lookup,
) -> LinkBlock:
    given = [k for k in (mass, strength) if k is not None and k.per_kg is not None]
    sentences = [per_kg_sentence(mass, lookup)] if mass is not None else []
    if spread is not None:
        sentences.append(over_camps_sentence(spread, lookup))
    if strength is not None:
        sentences.append(per_strength_sentence(strength, lookup))
    if row.verdict != "refused":
        sentences.append(carries_sentence(row))
    return LinkBlock(
        name=lookup.full_label(row.measure, row.line),
        rows=_rows(row, strength, lookup),
        sentences=tuple(sentences),
        basis=_basis(row),
        refused=not given,
    )


def _rows(row: MassOrStrength, strength: StrengthLink | None, lookup: Lookup) -> tuple[Amount, ...]:
    # the model compares athletes by how fast they gain: its shares are drawn only where one is clearly larger
    if (
        row.verdict not in {"mass", "strength"}
        or row.mass_gain_sd is None
        or row.strength_gain_sd is None
        or strength is None
    ):
        return ()
    scale, lift = lookup.mean_scale(row.measure), lookup.scale(strength.strength_measure)
    mass = f"Mass, a usual {mass_scale(lookup.system).change(row.mass_gain_sd)}"
    lifted = f"Strength, a usual {lift.change(row.strength_gain_sd)}"
    triples = (
        (mass, row.mass_share, row.mass_low, row.mass_high),
        (lifted, row.strength_share, row.strength_low, row.strength_high),
    )
    return tuple(
        Amount(
            words=words,
            amount=scale.change(value, 1),
            interval=scale.interval(low, high, 1),
            value=scale.of(value),
            low=scale.of(low),
            high=scale.of(high),
        )
        for words, value, low, high in triples
        if value is not None and low is not None and high is not None
    )


def per_strength_sentence(link: StrengthLink, lookup: Lookup) -> str:
    """What goes with ten units of added strength at equal time, or why that cannot be said."""
    lift, scale = lookup.scale(link.strength_measure), lookup.scale(link.measure)
    name = lookup.label(link.strength_measure)
    if link.per_kg is None or link.low is None or link.high is None:
        return f"Strength ({name}): {link.reason or 'cannot be said'}."
    each = STEP / lift.factor
    tail = " (may be zero)" if link.low <= 0 <= link.high else ""
    return (
        f"Each {STEP:.0f} {lift.unit} an athlete added in {name} went with {scale.change(link.per_kg * each, 1)} "
        f"({scale.interval(link.low * each, link.high * each, 1)}) at equal time in the program{tail}; "
        f"{count_of(link.n_athletes, 'athlete')}. Mass gained along with it is in this number, and so is "
        "whatever else lets those who gain strength faster improve faster."
    )


def carries_sentence(row: MassOrStrength) -> str:
    """Which of the two goes with more when both are in one model, or that it is not known."""
    if row.verdict not in {"mass", "strength"}:
        return f"Whether mass or strength goes with more is not known: {row.reason}."
    other = "strength" if row.verdict == "mass" else "mass"
    return (
        f"With both in one model, a usual gain of {row.verdict} goes with more than a usual gain of {other}. "
        "Neither is shown to be the cause."
    )


def _basis(row: MassOrStrength) -> str:
    return (
        f"{count_of(row.n_athletes, 'athlete')} and {count_of(row.n_sessions, 'session')} with body mass and two "
        f"strength tests; {level_text(row.level)} ranges. A usual gain is how far athletes differ in what they "
        "gained over equal time."
    )


def relative_sentences(rows: Iterable[RelativeStrength], stay_id: str, lookup: Lookup) -> tuple[str, ...]:
    """Strength for body size over one stay: a sentence for each lift, or why there is none."""
    own = [row for row in rows if row.stay_id == stay_id and row.measure in lookup.measures]
    return tuple(_relative(row, lookup) for row in own)


def _relative(row: RelativeStrength, lookup: Lookup) -> str:
    name = lookup.full_label(row.measure, row.line)
    ends = (row.start_strength, row.end_strength, row.start_mass, row.end_mass)
    numbers = (row.start_relative, row.end_relative, row.change_percent, row.low, row.high)
    if row.first_on is None or row.last_on is None or None in ends or None in numbers:
        return f"{name}: not shown, {row.reason}."
    lift, mass = lookup.scale(row.measure), mass_scale(lookup.system)
    start, end, light, heavy = (float(v or 0.0) for v in ends)
    first, last, change, low, high = (float(v or 0.0) for v in numbers)
    clear = "" if low > 0 or high < 0 else "; no change cannot be ruled out"
    return (
        f"{name}: {lift.text(start)} at {mass.text(light)} to {lift.text(end)} at {mass.text(heavy)}, "
        f"{full_day(row.first_on)} to {full_day(row.last_on)}, {count_of(row.n_tests, 'test')}. For body size "
        f"{plain_number(first, 2)} to {plain_number(last, 2)}: {signed_number(change, 0)} % "
        f"({signed_number(low, 0)} to {signed_number(high, 0)} %, {level_text(row.level)}){clear}."
    )
