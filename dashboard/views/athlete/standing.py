"""Where an athlete stands among athletes of similar age, height and mass."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from latewood.dashboard.text.wording import full_day, level_text, reading_order
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.peers.results import PeerNeighbour, PeerStanding


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One measure: dots are the nearest in build, the rule is the athlete; better to the right."""

    name: str
    family: str
    value: str
    dots: tuple[float, ...]  # 0 to 1 along the strip
    rule: float  # 0 to 1
    ends: tuple[str, str]
    headline: str
    basis: str
    counted: str  # the level of the range, and for how many peers the group counts
    refused: bool


def build_strips(
    standings: Iterable[PeerStanding], neighbours: Iterable[PeerNeighbour], lookup: Lookup
) -> tuple[Strip, ...]:
    """One strip per measure and line (the latest standing of each), refusals last."""
    around: dict[tuple[str, str], list[float]] = {}
    for row in neighbours:
        around.setdefault((row.measure, row.line), []).append(row.value)
    latest: dict[tuple[str, str], PeerStanding] = {}
    for standing in standings:
        key = (standing.measure, standing.line)
        if standing.measure in lookup.measures and (key not in latest or latest[key].as_of < standing.as_of):
            latest[key] = standing
    ordered = sorted(
        latest.values(),
        key=lambda s: (s.verdict == "refused", reading_order(lookup.measures[s.measure]), s.line),
    )
    return tuple(_strip(s, around.get((s.measure, s.line), []), lookup) for s in ordered)


def _strip(standing: PeerStanding, around: list[float], lookup: Lookup) -> Strip:
    measure, scale = lookup.measures[standing.measure], lookup.scale(standing.measure)
    everyone = [*around, standing.value]
    low, high = min(everyone), max(everyone)
    turned = measure.better == "lower"
    ends = (scale.text(high), scale.text(low)) if turned else (scale.text(low), scale.text(high))
    refused = standing.verdict == "refused" or standing.percentile is None

    def place(value: float) -> float:
        share = 0.5 if high == low else (value - low) / (high - low)
        return 1 - share if turned else share

    return Strip(
        name=lookup.full_label(standing.measure, standing.line),
        family=measure.family,
        value=scale.text(standing.value),
        dots=() if refused else tuple(place(value) for value in around),
        rule=place(standing.value),
        ends=ends,
        headline=_headline(standing, measure.better),
        basis=f"as of {full_day(standing.as_of)}; {standing.reference}",
        counted=""
        if refused
        else f"{level_text(standing.level)} range; counts as {standing.n_effective:.0f} peers",
        refused=refused,
    )


def _headline(standing: PeerStanding, better: str) -> str:
    if standing.percentile is None or standing.verdict == "refused":
        return f"Not shown: {standing.reason or 'too few athletes of similar build'}"
    than = "more than" if better == "neither" else "better than"
    span = ""
    if standing.low is not None and standing.high is not None:
        span = f" ({standing.low:.0f} to {standing.high:.0f})"
    caution = (
        f" Caution: {standing.reason}."
        if standing.verdict == "shown with caution" and standing.reason
        else ""
    )
    return f"{than.capitalize()} {standing.percentile:.0f} of 100 of similar build{span}.{caution}"
