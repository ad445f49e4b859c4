"""Whether the camps of a program differ in what they gain, and which pairs can be separated."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial

from latewood.dashboard.text.wording import (
    Scale,
    change_words,
    count_of,
    interval_words,
    is_timed,
    level_text,
    plain_number,
    reading_order,
    with_unit,
)
from latewood.dashboard.views.athlete.mass_link import Amount
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.change.camps_apart import APART
from latewood.pipeline.stats.change.results import CampPair, CampSpread

MOST_PAIRS = 10  # drawn; with more camps only the pairs separated


@dataclass(frozen=True, slots=True, kw_only=True)
class CampsApart:
    """One measure: the pairs as bars from zero, the sentences, and what the numbers rest on."""

    name: str
    rows: tuple[Amount, ...]
    sentences: tuple[str, ...]
    basis: str
    refused: bool


def build_camps_apart(
    spreads: Iterable[CampSpread], pairs: Iterable[CampPair], families: Sequence[str], lookup: Lookup
) -> tuple[CampsApart, ...]:
    """One block per line of the picked kinds: lines in which camps are separated first, refusals last."""
    own: dict[tuple[str, str], list[CampPair]] = {}
    for pair in pairs:
        own.setdefault((pair.measure, pair.line), []).append(pair)
    wanted = [
        s for s in spreads if s.measure in lookup.measures and lookup.measures[s.measure].family in families
    ]
    wanted.sort(
        key=lambda s: (
            s.verdict == "refused",
            s.verdict != APART,
            reading_order(lookup.measures[s.measure]),
            -s.n_camps,
            s.line,
        )
    )
    return tuple(_block(s, own.get((s.measure, s.line), []), lookup) for s in wanted)


def _block(spread: CampSpread, pairs: list[CampPair], lookup: Lookup) -> CampsApart:
    name = lookup.full_label(spread.measure, spread.line)
    if spread.verdict == "refused" or spread.weeks is None:
        words = f"Camps are not compared: {spread.reason}."
        return CampsApart(name=name, rows=(), sentences=(words,), basis="", refused=True)
    shown = pairs if len(pairs) <= MOST_PAIRS else [p for p in pairs if p.verdict == APART]
    scale = lookup.mean_scale(spread.measure)
    return CampsApart(
        name=name,
        rows=tuple(_row(pair, scale, lookup) for pair in shown),
        sentences=tuple(
            text for text in (_mean(spread, scale, lookup), _true(spread, scale), _sentence(spread)) if text
        ),
        basis=_basis(spread),
        refused=False,
    )


def _row(pair: CampPair, scale: Scale, lookup: Lookup) -> Amount:
    measure = lookup.measures[pair.measure]
    return Amount(
        words=f"{lookup.camp_label(pair.camp_id)} less {lookup.camp_label(pair.other_id)}"
        + (", separated" if pair.verdict == APART else ""),
        amount=change_words(measure, scale, pair.difference),
        interval=interval_words(measure, scale, pair.low, pair.high),
        value=pair.difference,
        low=pair.low,
        high=pair.high,
    )


def _mean(spread: CampSpread, scale: Scale, lookup: Lookup) -> str:
    if spread.mean is None or spread.mean_low is None or spread.mean_high is None:
        return ""
    measure = lookup.measures[spread.measure]
    span = partial(interval_words, measure, scale)
    were, would = ("got", "get") if is_timed(measure) else ("gained", "gain")
    text = (
        f"Over the same {spread.weeks:.1f} weeks the {count_of(spread.n_camps, 'camp')} {were} "
        f"{change_words(measure, scale, spread.mean)} on average ({span(spread.mean_low, spread.mean_high)})."
    )
    if spread.next_low is None or spread.next_high is None:
        return text
    return f"{text} One more camp like these would {would} {_next(spread, scale, timed=is_timed(measure))}."


def _next(spread: CampSpread, scale: Scale, *, timed: bool) -> str:
    """The range of one more camp with its unit; both ends of a time as faster or slower."""
    low, high = spread.next_low or 0.0, spread.next_high or 0.0
    if not timed:
        return with_unit(scale.interval(low, high), scale.unit)
    return " to ".join(f"{scale.text(abs(end))} {'faster' if end < 0 else 'slower'}" for end in (low, high))


def _true(spread: CampSpread, scale: Scale) -> str:
    """How far camps truly lie apart, and how much of what is seen is chance."""
    if spread.spread is None or spread.share is None or spread.share_low is None or spread.share_high is None:
        return ""
    low, high = spread.spread_low or 0.0, spread.spread_high or 0.0
    parts = [plain_number(100 * part, 0) for part in (spread.share, spread.share_low, spread.share_high)]
    return (
        f"True gains of camps lie {scale.text(spread.spread)} from their average as a rule "
        f"({scale.span(low, high)}); {parts[0]} % of the differences seen is more than chance "
        f"({parts[1]} to {parts[2]} %)."
    )


def _sentence(spread: CampSpread) -> str:
    if spread.n_apart == 0:
        return (
            "No two camps can be separated: do not rank them."
            if spread.n_pairs > 1
            else "The two camps cannot be separated: do not rank them."
        )
    rest = spread.n_pairs - spread.n_apart
    tail = f"; {count_of(rest, 'pair')} cannot, and no order of all camps follows from this" if rest else ""
    return f"{count_of(spread.n_apart, 'pair')} of camps can be separated{tail}."


def _basis(spread: CampSpread) -> str:
    left = (
        f" {spread.n_left_out} left out: seen for less than half the usual weeks."
        if spread.n_left_out
        else ""
    )
    return (
        f"{level_text(spread.level)} ranges. Those of all {count_of(spread.n_pairs, 'pair')} hold together: if the "
        f"camps were all alike, any pair at all would be called different in about 5 of 100 programs.{left}"
    )
