"""How much camps truly differ in one line, and which pairs of them can be separated, over the same weeks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from latewood.pipeline.stats.change.results import CampPair, CampSpread
from latewood.pipeline.stats.engine.heterogeneity import FEWEST_FOR_NEXT, Heterogeneity, heterogeneity
from latewood.pipeline.stats.engine.line_models import LineModel, bridge_effects
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.engine.pairwise import Difference, any_apart, differences

LEVEL = 0.95
BRIEF = 0.5  # a camp seen for less than this part of the usual length would shorten the comparison for all
APART, NOT_APART = "separated", "not separated"
SPREAD_METHOD = (
    "gains over the same weeks; Paule-Mandel, "
    "interval by Q profile (Welch), new camp with t on camps less two"
)
PAIR_METHOD = "gains over the same weeks; all pairs together (Games-Howell), shared offsets once"


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedCamp:
    """One camp's sessions in a line, its model, the weeks its gain is told for, and its degrees of freedom."""

    camp_id: str
    sessions: pd.DataFrame
    model: LineModel
    weeks: float
    degrees: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CampsCompared:
    """The camps of a line that are compared, in order, over how many weeks, and how many are left out."""

    camps: Sequence[FittedCamp]
    weeks: float
    n_left_out: int


def compared_camps(
    measure: str, line: str, camps: Sequence[FittedCamp]
) -> tuple[CampSpread | None, tuple[CampPair, ...]]:
    """The spread between the camps of one line and every pair; nothing where fewer than two have a gain.

    Camps are compared over the shortest of their lengths, so that none is foretold beyond what it showed; one
    seen for less than half the usual (median) length is left out.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    if len(camps) < 2:
        return None, ()
    usual = float(np.median([camp.weeks for camp in camps]))
    kept = sorted((c for c in camps if c.weeks >= BRIEF * usual), key=lambda camp: camp.camp_id)
    brief = len(camps) - len(kept)
    if len(kept) < 2:
        return _refused(measure, line, len(kept), brief), ()
    weeks = min(camp.weeks for camp in kept)
    compared = CampsCompared(camps=kept, weeks=weeks, n_left_out=brief)
    gains, own = np.array([camp.model.gain(weeks) for camp in kept]).T
    shared = _offsets(kept, weeks)
    degrees = [camp.degrees for camp in kept]
    pairs = differences(gains, own, degrees, shared, LEVEL)
    result = heterogeneity(gains, np.diag(own) + shared @ shared.T, LEVEL, degrees)
    spread = _spread(measure, line, compared, result, pairs)
    return spread, tuple(_pair(measure, line, compared, one) for one in pairs)


def _offsets(camps: Sequence[FittedCamp], weeks: float) -> Floats:
    """What one standard error of each joining offset (columns) does to each camp's gain (rows)."""
    effects = [bridge_effects(camp.sessions, camp.model, weeks) for camp in camps]
    names = sorted({name for one in effects for name in one})
    return np.array([[one.get(name, 0.0) for name in names] for one in effects]).reshape(len(camps), -1)


def _spread(
    measure: str,
    line: str,
    compared: CampsCompared,
    found: Heterogeneity,
    pairs: Sequence[Difference],
) -> CampSpread:
    n_camps, brief = len(compared.camps), compared.n_left_out
    reasons = [f"left out, seen for less than half the usual weeks: {brief}"] if brief else []
    if found.next_low is None:
        reasons.append(f"{n_camps} camps, {FEWEST_FOR_NEXT} are needed to say what one more may gain")
    return CampSpread(
        measure=measure,
        line=line,
        weeks=compared.weeks,
        n_camps=n_camps,
        n_left_out=brief,
        mean=found.mean,
        mean_low=found.mean_low,
        mean_high=found.mean_high,
        q=found.q,
        share=found.share,
        share_low=found.share_low,
        share_high=found.share_high,
        spread=found.spread,
        spread_low=found.spread_low,
        spread_high=found.spread_high,
        next_low=found.next_low,
        next_high=found.next_high,
        n_pairs=len(pairs),
        n_apart=sum(one.apart for one in pairs),
        verdict=APART if any_apart(pairs) else NOT_APART,
        reason="; ".join(reasons),
        level=LEVEL,
        method=SPREAD_METHOD,
    )


def _pair(measure: str, line: str, compared: CampsCompared, one: Difference) -> CampPair:
    return CampPair(
        measure=measure,
        line=line,
        camp_id=compared.camps[one.first].camp_id,
        other_id=compared.camps[one.second].camp_id,
        weeks=compared.weeks,
        difference=one.difference,
        low=one.low,
        high=one.high,
        p_adjusted=one.p,
        verdict=APART if one.apart else NOT_APART,
        level=LEVEL,
        method=PAIR_METHOD,
    )


def _refused(measure: str, line: str, kept: int, brief: int) -> CampSpread:
    return CampSpread(
        measure=measure,
        line=line,
        weeks=None,
        n_camps=kept,
        n_left_out=brief,
        mean=None,
        mean_low=None,
        mean_high=None,
        q=None,
        share=None,
        share_low=None,
        share_high=None,
        spread=None,
        spread_low=None,
        spread_high=None,
        next_low=None,
        next_high=None,
        n_pairs=0,
        n_apart=0,
        verdict="refused",
        reason="no second camp was seen for at least half the usual weeks",
        level=LEVEL,
        method=SPREAD_METHOD,
    )
