"""What goes with added mass camp by camp: the mean over camps, how much they differ, one more camp."""

from __future__ import annotations

from latewood.dashboard.text.wording import count_of, mass_scale
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.links.results import LinkSpread


def over_camps_sentence(spread: LinkSpread, lookup: Lookup) -> str:
    """The mean over camps per unit of added mass, the differences between camps, one more camp; or why not."""
    numbers = (spread.mean, spread.mean_low, spread.mean_high, spread.spread, spread.spread_high)
    ends = (spread.next_low, spread.next_high)
    if None in numbers or None in ends:
        return f"Camp by camp: no number, {spread.reason}."
    mass = mass_scale(lookup.system)
    scale, each = lookup.scale(spread.measure), 1 / mass.factor
    mean, low, high, apart, widest = (each * float(v or 0.0) for v in numbers)
    least, most = (each * float(v or 0.0) for v in ends)
    tail = " (may be zero)" if low <= 0 <= high else ""
    left = f" {spread.n_left_out} left out: too little known there." if spread.n_left_out else ""
    return (
        f"Camp by camp, in the mean over {count_of(spread.n_camps, 'camp')}: {scale.change(mean, 1)} with each "
        f"{mass.unit} ({scale.interval(low, high, 1)}){tail}. Camps lie {scale.text(apart, 1)} from that mean as a "
        f"rule, at most {scale.text(widest, 1)}; in one more camp like these it would be "
        f"{scale.interval(least, most, 1)}.{left}"
    )
