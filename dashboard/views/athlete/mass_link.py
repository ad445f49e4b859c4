"""How an athlete's change sits beside the change that usually goes with the mass they added."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from latewood.dashboard.text.wording import count_of, level_text, mass_scale, reading_order
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.links.results import AthleteLink, MassLink


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """One row of the account: words, amount and interval as text, and the same in typical errors for drawing."""

    words: str
    amount: str
    interval: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """One measure: observed, what goes with the added mass, unexplained; or the refusal."""

    name: str
    family: str
    rows: tuple[Amount, ...]
    sentence: str
    basis: str
    refusal: str


def build_accounts(
    links: Iterable[AthleteLink], mass_links: Iterable[MassLink], stay_id: str, lookup: Lookup
) -> tuple[Account, ...]:
    """The accounts of one stay, in display order of the measures, refusals last."""
    program = tuple(mass_links)
    own = [link for link in links if link.stay_id == stay_id and link.measure in lookup.measures]
    own.sort(
        key=lambda link: (link.verdict == "refused", reading_order(lookup.measures[link.measure]), link.line)
    )
    return tuple(_account(link, program, lookup) for link in own)


def _account(link: AthleteLink, program: tuple[MassLink, ...], lookup: Lookup) -> Account:
    name, family = lookup.full_label(link.measure, link.line), lookup.measures[link.measure].family
    rows = _rows(link, lookup)
    if link.verdict == "refused" or not rows:
        refusal = link.reason or "not enough to say"
        return Account(name=name, family=family, rows=(), sentence="", basis="", refusal=refusal)
    return Account(
        name=name,
        family=family,
        rows=rows,
        sentence=_sentence(link, lookup),
        basis=_basis(link, program, lookup),
        refusal="",
    )


def _rows(link: AthleteLink, lookup: Lookup) -> tuple[Amount, ...]:
    parts = (
        ("Observed", link.observed, link.observed_low, link.observed_high),
        ("Goes with added mass", link.expected, link.expected_low, link.expected_high),
        ("Left over", link.left_over, link.left_over_low, link.left_over_high),
    )
    scale = lookup.mean_scale(link.measure)
    rows = []
    for words, value, low, high in parts:
        if value is None or low is None or high is None:
            return ()
        rows.append(
            Amount(
                words=words,
                amount=scale.change(value),
                interval=scale.interval(low, high),
                value=scale.of(value),
                low=scale.of(low),
                high=scale.of(high),
            )
        )
    return tuple(rows)


def _sentence(link: AthleteLink, lookup: Lookup) -> str:
    scale, mass = lookup.mean_scale(link.measure), mass_scale(lookup.system)
    observed, expected, left = link.observed or 0.0, link.expected or 0.0, link.left_over or 0.0
    reported = (link.left_over_low or 0.0) > 0 or (link.left_over_high or 0.0) < 0
    rest = (
        f"{scale.change(left)} is unexplained and does not fit added mass alone"
        if reported
        else f"the {scale.change(left)} unexplained may be zero"
    )
    return (
        f"Of {scale.change(observed)}, about {scale.change(expected)} is what usually goes with "
        f"{mass.change(link.mass_change or 0.0)} of body mass over the same test days, at equal time in the program; "
        f"{rest}."
    )


def _basis(link: AthleteLink, program: tuple[MassLink, ...], lookup: Lookup) -> str:
    result = [
        row
        for row in program
        if (row.measure, row.line, row.scope, row.adjustment) == (link.measure, link.line, "program", "time")
    ]
    sessions = f"{count_of(link.n_sessions, 'session')} of this athlete, {level_text(link.level)} ranges"
    if not result:
        return sessions
    return f"{per_kg_sentence(result[0], lookup)} {sessions[0].upper()}{sessions[1:]}."


def per_kg_sentence(link: MassLink, lookup: Lookup) -> str:
    """What goes with one unit of added mass across the program, or why that cannot be said."""
    scale, mass = lookup.scale(link.measure), mass_scale(lookup.system)
    if link.per_kg is None or link.low is None or link.high is None:
        return f"Across the program: {link.reason or 'cannot be said'}."
    each = 1 / mass.factor
    tail = " (may be zero)" if link.low <= 0 <= link.high else ""
    return (
        f"Across the program, each {mass.unit} an athlete added went with {scale.change(link.per_kg * each, 1)} "
        f"({scale.interval(link.low * each, link.high * each, 1)}){tail}; {count_of(link.n_athletes, 'athlete')}."
    )
