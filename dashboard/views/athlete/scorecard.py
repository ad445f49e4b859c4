"""How the tool's past projections did: a table, and one line beside each projection of today."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from latewood.dashboard.text.wording import THIN, count_of, reading_order, with_unit
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.projection.results import ProjectionScore
from latewood.pipeline.stats.projection.scores import (
    ALL,
    AS_PROMISED,
    BANDS,
    BROKEN,
    TOO_FEW,
    TOO_NARROW,
    band_of,
)

HORIZONS = (ALL, *(name for _, name in BANDS))
NEVER = "No projection of this measure has met its test day yet: nothing is known of how past ones did."
HOW_READ = (
    "Every projection is kept. What a review would have said, knowing nothing later, is held against the test day "
    "that came. An honest 80 % range holds 8 of 10. CRPS is the usual distance between what was said and what came, "
    "unsureness counted; smaller is better, and it should be smaller than that of “same as last time”."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scorecard:
    """The table of past projections, a sentence on the whole of it, and how many verdicts are chance."""

    rows: tuple[Mapping[str, str], ...]
    head: str
    by_chance: str


def build_scorecard(
    scores: Iterable[ProjectionScore], lookup: Lookup, measure: str | None = None
) -> Scorecard:
    """The scores of one measure by horizon, or (None) of every measure over all horizons."""
    shown = [s for s in scores if s.measure in lookup.measures]
    shown = [s for s in shown if (s.horizon == ALL if measure is None else s.measure == measure)]
    shown.sort(key=lambda s: (reading_order(lookup.measures[s.measure]), HORIZONS.index(s.horizon)))
    full = [s for s in shown if s.horizon == ALL]
    made, scored, waiting = (
        sum(getattr(s, f"n_{what}") for s in full) for what in ("made", "scored", "waiting")
    )
    judged = [s for s in shown if s.verdict != TOO_FEW]
    rest = made - scored - waiting
    return Scorecard(
        rows=tuple(_row(s, lookup) for s in shown),
        head=(
            f"{count_of(made, 'projection')} made: {scored:,} met a test day, {waiting:,} wait for theirs, "
            f"{rest:,} had no test within three days of the date shown."
            if made
            else NEVER
        ),
        by_chance=(
            f"If every range were honest, about {len(judged) * BROKEN:.1f} of these {len(judged)} verdicts would still "
            "read too narrow or too wide."
            if judged
            else ""
        ),
    )


def past_line(scores: Iterable[ProjectionScore], measure: str, weeks: float) -> str:
    """How past projections of a measure did that looked as far ahead; over all horizons where few did."""
    own = {s.horizon: s for s in scores if s.measure == measure}
    band = band_of(weeks)
    result = [own[name] for name in (band, ALL) if name in own and own[name].verdict != TOO_FEW]
    if not result:
        n = own[ALL].n_scored if ALL in own else 0
        return f"How past ones did: {n} have met a test day, too few to say"
    score = result[0]
    ahead = "at any distance" if score.horizon == ALL else f"{score.horizon} ahead"
    warned = "; read this range as wider" if score.verdict == TOO_NARROW else ""
    return (
        f"How past ones did ({ahead}): {percent(score.inside_80)} of {score.n_scored} inside their 80{THIN}% range "
        f"({span(score.inside_80_low, score.inside_80_high)}), {score.verdict}{warned}"
    )


def held_line(scores: Iterable[ProjectionScore], measure: str, weeks: float) -> str:
    """The same in plain words."""
    own = {s.horizon: s for s in scores if s.measure == measure}
    score = next((own[n] for n in (band_of(weeks), ALL) if n in own and own[n].verdict != TOO_FEW), None)
    if score is None:
        return "Too few past ones have met a test day to say how good they are."
    warned = "; read this range as wider" if score.verdict == TOO_NARROW else ""
    inside = f"{percent(score.inside_80)} came inside their range"
    return f"Of {score.n_scored} earlier ones, {inside}: {score.verdict}{warned}"


def verdict(score: ProjectionScore) -> str:
    """The verdict in words, with its chance where the promise was not kept."""
    if score.chance is None or score.verdict in {AS_PROMISED, TOO_FEW}:
        return score.verdict
    chance = "under 0.001" if score.chance < 0.001 else f"{score.chance:.3f}"
    return f"{score.verdict} (p = {chance})".replace("p = under", "p under")


def percent(share: float | None) -> str:
    """A share in per cent; a dash where there is none."""
    return "–" if share is None else f"{100 * share:.0f}{THIN}%"


def span(low: float | None, high: float | None) -> str:
    """Two shares as one text."""
    return "–" if low is None or high is None else f"{100 * low:.0f} to {100 * high:.0f}"


def _row(score: ProjectionScore, lookup: Lookup) -> Mapping[str, str]:
    scale = lookup.mean_scale(score.measure)

    def size(value: float | None) -> str:
        return "–" if value is None else with_unit(scale.number(value, 1), scale.unit)

    return {
        "Measure": lookup.measures[score.measure].label,
        "Ahead": "any distance" if score.horizon == ALL else score.horizon,
        "Made": f"{score.n_made:,}",
        "Scored": f"{score.n_scored:,}",
        "Inside 80 %": f"{percent(score.inside_80)} ({span(score.inside_80_low, score.inside_80_high)})",
        "Inside 95 %": f"{percent(score.inside_95)} ({span(score.inside_95_low, score.inside_95_high)})",
        "Came higher by": "–"
        if score.bias is None
        else f"{scale.change(score.bias)} ({scale.interval(score.bias_low or 0.0, score.bias_high or 0.0)})",
        "CRPS": size(score.crps),
        "Same as last time": size(score.crps_last),
        "Verdict": verdict(score),
    }
