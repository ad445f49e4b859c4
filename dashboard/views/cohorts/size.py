"""How an output goes with body size, in per cent, beside what is published."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from latewood.dashboard.text.wording import count_of, level_text, plain_number
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.links.results import SizeExponent


def size_sentences(rows: Iterable[SizeExponent], families: Sequence[str], lookup: Lookup) -> tuple[str, ...]:
    """One text per line of the picked kinds: across athletes, then within them, or why not."""
    own = [r for r in rows if r.measure in lookup.measures and lookup.measures[r.measure].family in families]
    return tuple(f"{lookup.full_label(r.measure, r.line)}: {_across(r)} {_within(r)}" for r in own)


def _across(row: SizeExponent) -> str:
    if row.across is None or row.across_low is None or row.across_high is None:
        return f"is not known across athletes ({row.reason.partition(';')[0].removeprefix('across: ')})."
    fits = "fits" if row.across_low <= row.published <= row.across_high else "differs from"
    more = _span(row.across, row.across_low, row.across_high)
    return (
        f"an athlete heavier by 1 % than another of the same sex has {more} more "
        f"({level_text(row.level)}, {count_of(row.n_across, 'athlete')}), which {fits} the {row.published:g} % "
        "published for adults."
    )


def _within(row: SizeExponent) -> str:
    if row.within is None or row.within_low is None or row.within_high is None:
        return f"What 1 % of own added mass goes with is not known ({row.reason.partition('within: ')[2]})."
    tail = "; may be zero" if row.within_low <= 0 <= row.within_high else ""
    return (
        f"With 1 % of own added mass at equal time went {_span(row.within, row.within_low, row.within_high)}{tail}; "
        "that is another question."
    )


def _span(value: float, low: float, high: float) -> str:
    return f"{plain_number(value, 2)} % ({plain_number(low, 2)} to {plain_number(high, 2)})"
