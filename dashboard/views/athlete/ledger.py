"""The account of one change as an account book: where it began, amount by amount, where it ended."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from latewood.dashboard.text.wording import (
    Scale,
    count_of,
    level_text,
    mass_scale,
    reading_order,
    signed_number,
)
from latewood.dashboard.views.athlete.mass_link import per_kg_sentence
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.change.results import Trend
from latewood.pipeline.stats.links.results import AccountRow, MassLink

WORDS = {
    "start": "Start",
    "time": "Time in the program",
    "learning": "Learning the test",
    "mass": "Goes with added mass",
    "strength": "Goes with added strength",
    "unexplained": "Not explained",
    "end": "End",
}
ENDS = ("start", "end")
REST = "The rest goes with time, practice and learning the test, or has no known reason."
REACH = 0.06  # of the width, kept free at both sides


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One written line. Places are shares of the width: where it begins, where it ends, and its whisker."""

    words: str
    amount: str  # '' where the line stands within another
    interval: str
    bracket: str
    joined: bool  # bracketed with the line before or after it
    ends: bool
    begin: float
    end: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """The account of one stay in one line of measurement."""

    key: str
    name: str
    entries: tuple[Entry, ...]
    sentence: str
    basis: str


def build_ledgers(
    rows: Iterable[AccountRow],
    program: Iterable[MassLink],
    trends: Iterable[Trend],
    stay_id: str,
    lookup: Lookup,
) -> tuple[Ledger, ...]:
    """The accounts of one stay in display order of the measures."""
    result: dict[tuple[str, str], dict[str, AccountRow]] = {}
    for row in rows:
        if row.stay_id == stay_id and row.measure in lookup.measures:
            result.setdefault((row.measure, row.line), {})[row.row] = row
    links = {(k.measure, k.line): k for k in program if (k.scope, k.adjustment) == ("program", "time")}
    changes = {(t.measure, t.line): t.change for t in trends if t.stay_id == stay_id}
    order = sorted(result, key=lambda key: (reading_order(lookup.measures[key[0]]), key[1]))
    return tuple(_ledger(result[key], links.get(key), changes.get(key), lookup) for key in order)


def _ledger(
    rows: Mapping[str, AccountRow], link: MassLink | None, change: float | None, lookup: Lookup
) -> Ledger:
    mass = rows["mass"]
    scale = lookup.mean_scale(mass.measure)
    return Ledger(
        key=f"{mass.measure}|{mass.line}",
        name=lookup.full_label(mass.measure, mass.line),
        entries=_entries(rows, scale),
        sentence=_sentence(rows, scale, lookup),
        basis=" ".join(text for text in _basis(rows, link, change, lookup) if text),
    )


def _entries(rows: Mapping[str, AccountRow], scale: Scale) -> tuple[Entry, ...]:
    low, high = _axis(rows)
    running, entries = 0.0, []

    def place(value: float) -> float:
        return REACH + (value - low) / (high - low) * (1.0 - 2.0 * REACH)

    for name, words in WORDS.items():
        row = rows[name]
        value, at = row.amount or 0.0, row.row in ENDS
        base = 0.0 if at else running
        down = 0.0 if row.low is None else row.low - value
        up = 0.0 if row.high is None else row.high - value
        interval = "" if row.low is None or row.high is None else _interval(scale, row.low, row.high, ends=at)
        entries.append(
            Entry(
                words=words,
                amount="" if row.amount is None else scale.text(value) if at else scale.change(value),
                interval=interval,
                bracket=row.bracket,
                joined=_is_joined(rows, name),
                ends=at,
                begin=place(value if at else base),
                end=place(base + value),
                low=place(base + value + down),
                high=place(base + value + up),
            )
        )
        running = base + value
    return tuple(entries)


def _interval(scale: Scale, low: float, high: float, *, ends: bool) -> str:
    return scale.span(low, high) if ends else scale.interval(low, high)


def _axis(rows: Mapping[str, AccountRow]) -> tuple[float, float]:
    """The lowest and the highest value that any line of the account reaches."""
    running, observed = 0.0, []
    for name in WORDS:
        row = rows[name]
        base = 0.0 if name in ENDS else running
        observed += [base + value for value in (row.amount, row.low, row.high) if value is not None]
        running = base + (row.amount or 0.0)
    low, high = min(observed), max(observed)
    return (low, high) if high > low else (low - 1.0, high + 1.0)


def _is_joined(rows: Mapping[str, AccountRow], name: str) -> bool:
    """Whether a line stands in one bracket with its neighbour: a part without an amount, and its host."""
    pairs = {"time": "learning", "learning": "learning", "mass": "strength", "strength": "strength"}
    inner = rows.get(pairs.get(name, ""))
    return inner is not None and inner.amount is None and inner.bracket.startswith("within")


def _sentence(rows: Mapping[str, AccountRow], scale: Scale, lookup: Lookup) -> str:
    mass, strength = rows["mass"], rows["strength"]
    total = (rows["end"].amount or 0.0) - (rows["start"].amount or 0.0)
    fits = (mass.amount or 0.0) + (strength.amount or 0.0)
    added = mass_scale(lookup.system).change(mass.mass_change or 0.0)
    if mass.amount is None:
        return (
            f"The change is {scale.change(total)}, with {added} of body mass over the same test days. What goes "
            "with the mass cannot be separated from time and the athlete's own pace."
        )
    what = f"the mass added over the same test days ({added}) and strength"
    untold = (mass.low or 0.0) <= 0.0 <= (mass.high or 0.0) and strength.amount is None
    tail = "; it could be nothing" if untold else ""
    if fits * total > 0.0 and abs(fits) <= abs(total):
        part = signed_number(scale.of(fits), scale.decimals)
        return f"About {part} of {scale.change(total)} goes with {what}{tail}. {REST}"
    return f"The change is {scale.change(total)}; {scale.change(fits)} goes with {what}{tail}. {REST}"


def _basis(
    rows: Mapping[str, AccountRow], link: MassLink | None, change: float | None, lookup: Lookup
) -> tuple[str, ...]:
    mass = rows["mass"]
    scale = lookup.mean_scale(mass.measure)
    total = scale.change((rows["end"].amount or 0.0) - (rows["start"].amount or 0.0))
    moved = "" if change is None else scale.change(change)
    return (
        per_kg_sentence(link, lookup) if link is not None else "",
        f"{count_of(mass.n_sessions, 'session')} of this athlete, {level_text(mass.level)} ranges. The lines add up "
        "before rounding; as shown they may differ in the last digit.",
        f"The account takes the first test day as it was; under What changed it is moved by what the camp lacked "
        f"on it, and the change reads {moved}."
        if moved and moved != total
        else "",
    )
