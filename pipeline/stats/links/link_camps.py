"""The mass link with an effect of each camp's own: the mean per kg over camps, and how much camps differ in it.

`link.mass_links` gives one slope for all athletes of a program; its interval is about these camps. Camps may
differ in what goes with a kilogram (food, training, coaching), and then the mean over camps of the kind is less
sure than that. Here every camp with a link of its own is one estimate with its error, and the camps are pooled as
a random effect: Paule-Mandel for the spread (`heterogeneity`), the mean's interval from what the camps scatter, and
that of a new camp (`new_camp`). In two steps this is the mixed model with a slope on own mass for every camp
(Burke, Ensor, Riley 2017, Stat Med 36:855-875 †).

Camps share errors where an athlete came to more than one of them (their scores in one camp times those in another)
and where one offset joined their devices; both are in the covariance. A camp's error is that
of its link, without bridges.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.engine.heterogeneity import heterogeneity
from latewood.pipeline.stats.engine.mixed import coefficients_at, fit_random_slope
from latewood.pipeline.stats.engine.mixed_sums import group_sums
from latewood.pipeline.stats.engine.new_camp import pooled
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.stats.links.link_design import (
    Floats,
    LinkRows,
    fixed_columns,
    independent,
    link_rows,
    own_mass_error,
    time_columns,
)
from latewood.pipeline.stats.links.results import LinkSpread, MassLink

FEWEST_CAMPS = 3
LEVEL = 0.95
METHOD = (
    "each camp's own link (within-between mixed model); camps as a random effect: spread by Paule-Mandel, mean by "
    "Hartung-Knapp, new camp over the spread's confidence distribution; shared athletes and devices in the covariance"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CampLink:
    """One camp's link: per kg, its error, degrees of freedom, and what it shares with other camps."""

    camp_id: str
    per_kg: float
    standard_error: float
    degrees: float
    athletes: tuple[str, ...]
    scores: Mapping[str, float]  # what each athlete puts on per kg
    offsets: Floats  # (b,) what one standard error of each joining offset does to per kg


def link_spreads(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    people: pd.DataFrame,
    measures: Mapping[str, Measure],
    links: Sequence[MassLink],
) -> tuple[LinkSpread, ...]:
    """The mean over camps and the spread between them, of every line with links of more than one camp.

    `links` is the result of `link.mass_links` on the same frames. Refused where fewer than three camps have a
    link of their own.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    own = [k for k in links if k.scope != "program" and k.adjustment == "time"]
    lines = {(k.measure, k.line) for k in own}
    inside = comparable_sessions(session_values, measures)
    result: list[LinkSpread] = []
    for (measure, line), sessions in by_line(inside.loc[inside["measure"].isin({m for m, _ in lines})]):
        estimate = [k for k in own if (k.measure, k.line) == (measure, line)]
        if len(estimate) < 2:
            continue
        given = [k for k in estimate if k.per_kg is not None]
        if len(given) < FEWEST_CAMPS:
            result.append(_refused(measure, line, len(given), len(estimate)))
            continue
        rows = link_rows(sessions, mass_trend, people, sessions.iloc[:0])
        camps = [_camp_link(rows.only(rows.camp.astype(str) == k.scope), k) for k in given]
        result.append(pooled_links(measure, line, camps, len(estimate) - len(given)))
    return tuple(result)


def _camp_link(rows: LinkRows, link: MassLink) -> CampLink:
    """One camp's link with what it shares: the model of `link` fitted to the camp's rows again."""
    time = time_columns(link.time_form, rows.weeks)
    full = fixed_columns(rows, time)
    x = full[:, independent(full)]
    z = np.column_stack([np.ones(len(rows.value)), time[:, 0]])
    fit = fit_random_slope(rows.stay, rows.value, x, z)
    names, halves = fit.influence(dict(zip(rows.stay, rows.athlete, strict=True)))
    clusters = own_mass_error(rows, time)
    moved = [coefficients_at(group_sums(rows.stay, c, x, z), fit.L)[-1] for c in rows.offset_error.T]
    return CampLink(
        camp_id=link.scope,
        per_kg=float(fit.beta[-1]),
        standard_error=max(float(np.sqrt(fit.beta_cov[-1, -1])), clusters.standard_error),
        degrees=clusters.degrees,
        athletes=tuple(str(name) for name in names),
        scores={str(name): float(half) for name, half in zip(names, halves[-1], strict=True)},
        offsets=np.array(moved, dtype=float),
    )


def covariance_of(camps: Sequence[CampLink]) -> Floats:
    """The covariance of the camps' errors, (k, k): what two share is the correlation of their athletes' scores."""
    names = sorted({name for camp in camps for name in camp.scores})
    scores = np.array([[camp.scores.get(name, 0.0) for name in names] for camp in camps])
    size = np.linalg.norm(scores, axis=1)
    alike = (scores @ scores.T) / np.where(size > 0.0, np.outer(size, size), 1.0)
    np.fill_diagonal(alike, 1.0)
    own = np.array([camp.standard_error for camp in camps])
    offsets = np.array([camp.offsets for camp in camps]).reshape(len(camps), -1)
    return np.asarray(alike * np.outer(own, own) + offsets @ offsets.T)


def pooled_links(measure: str, line: str, camps: Sequence[CampLink], n_left_out: int) -> LinkSpread:
    """The mean per kg over camps and the spread between them, from three camps' links or more.

    Raises ValueError below three links.
    """
    effects, covariance = np.array([camp.per_kg for camp in camps]), covariance_of(camps)
    result = heterogeneity(effects, covariance, LEVEL, [camp.degrees for camp in camps])
    estimate = pooled(effects, covariance, result.spread, LEVEL)
    everybody = [name for camp in camps for name in camp.athletes]
    spans = estimate.low <= 0.0 <= estimate.high
    return LinkSpread(
        measure=measure,
        line=line,
        n_camps=len(camps),
        n_left_out=n_left_out,
        n_athletes=len(everybody),
        n_shared=_more_than_once(everybody),
        mean=estimate.mean,
        mean_low=estimate.low,
        mean_high=estimate.high,
        spread=result.spread,
        spread_low=result.spread_low,
        spread_high=result.spread_high,
        share=result.share,
        next_low=estimate.next_low,
        next_high=estimate.next_high,
        verdict="may be zero" if spans else "estimated",
        reason=f"left out, without a link of their own: {n_left_out}" if n_left_out else "",
        level=LEVEL,
        method=METHOD,
    )


def _more_than_once(names: Sequence[str]) -> int:
    return int((pd.Series(list(names)).value_counts() > 1).sum())


def _refused(measure: str, line: str, given: int, told: int) -> LinkSpread:
    return LinkSpread(
        measure=measure,
        line=line,
        n_camps=given,
        n_left_out=told - given,
        n_athletes=0,
        n_shared=0,
        mean=None,
        mean_low=None,
        mean_high=None,
        spread=None,
        spread_low=None,
        spread_high=None,
        share=None,
        next_low=None,
        next_high=None,
        verdict="refused",
        reason=f"{given} of {told} camps have a link of their own, {FEWEST_CAMPS} are needed",
        level=LEVEL,
        method=METHOD,
    )
