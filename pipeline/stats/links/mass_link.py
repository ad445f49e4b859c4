"""What an output gained per kg of the athlete's own added mass, at equal time in the program.

The model is y = 1 + own added mass + its own line + starting mass + age + f(t) + intake + camp, with an
intercept and a slope on f(t) of each stay's own. With the own line beside it, the coefficient of own added mass
rests on mass that ran ahead of or behind the athlete's own line (holds and restarts), and equals that of fixed
effects with individual slopes; those who gain faster and improve faster for another reason lend it nothing (see
`own_line_design`). The coefficient of starting mass compares athletes and is another question. It is the total
effect: what comes through strength gained with the mass is in it. Training that moves mass and output in the
same weeks cannot be told apart from mass by any of this.

Within and between: Mundlak 1978, Econometrica 46:69; own slopes: Wooldridge 2010, section 11.7.
Mass is the smoothed trend, an expectation given all weigh-ins; regressing on an expectation does not shrink
the slope the way a single weigh-in does (regression calibration: Carroll, Ruppert, Stefanski, Crainiceanu
2006, Measurement Error in Nonlinear Models, chapter 4).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.engine.few_clusters import GroupError
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed import MixedFit, fit_random_slope
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.stats.engine.small_blocks import unit_plus
from latewood.pipeline.stats.links.link_athletes import athlete_links
from latewood.pipeline.stats.links.link_design import (
    COPIED,
    FORMS,
    LINKED_FAMILIES,
    Floats,
    LinkRows,
    OwnMass,
    copied,
    every_kth,
    fixed_columns,
    group_first,
    group_means,
    independent,
    link_rows,
    offset_variance,
    own_mass,
    own_mass_error,
    time_columns,
)
from latewood.pipeline.stats.links.results import MassLink

__all__ = ["athlete_links", "fitted_links", "mass_links"]

ADJUSTMENTS = ("time", "none", "time and strength")
FEWEST_ATHLETES = 15
LEAST_GAIN = 2.0  # kg; a smaller usual gain asks no less of the design
LEAST_DEGREES = (
    4.0  # below them the t of a clustered error is not one (Tipton 2015, Psychol Methods 20:375-393)
)
LEAST_RELIABILITY = 0.8  # of strength within an athlete, before it can be held constant
LEVEL = 0.95
OWN_RATE_ONLY = (
    "mass kept too close to each athlete's own steady rate, and those who gain faster may improve faster for "
    "another reason; plans begun on drawn days, more camps, or holds and restarts of a gain would answer"
)
METHOD = (
    "mixed model on the smoothed mass with each stay's own line of it beside, penalised REML; larger of the model's "
    "and the athlete-clustered standard error off these lines (CR2), t with Satterthwaite's degrees of freedom"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """The slope on own mass, per kg, with its interval; `between` is the slope on starting mass."""

    per_kg: float
    standard_error: float
    low: float
    high: float
    between: float | None
    x: Floats = field(repr=False)  # (N, p) the fixed columns it was fitted with; own mass is the last
    z: Floats = field(repr=False)  # (N, 1 or 2) the random ones of each stay
    factor: Floats = field(repr=False)  # relative factor L of the random effects, see mixed.MixedFit
    few: float  # the athlete-clustered error over the one without a correction for few athletes
    degrees: float  # of its t


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedLink:
    """A published link with the rows and the slope it was made from; no slope where it is refused."""

    link: MassLink
    rows: LinkRows
    slope: Slope | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One line: its time form, and how reliably strength is measured (None where it is not known)."""

    measure: str
    line: str
    form: str
    reliability: float | None


def mass_links(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    people: pd.DataFrame,
    measures: Mapping[str, Measure],
    strength_key: str,
) -> tuple[MassLink, ...]:
    """The link of every line of skill, speed, jump and strength: of the whole program, then of each camp.

    Three adjustments each: 'time' is the answer; 'none' leaves time out and shows how wrong that is; 'time
    and strength' is given only where strength is measured well enough to be held constant. Refused under 15
    athletes with three sessions or more (two without time), and where mass hardly left the athletes' own lines:
    the half-width for the usual gain would be more than one SD of the output off its own lines.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    return tuple(k.link for k in fitted_links(session_values, mass_trend, people, measures, strength_key))


def fitted_links(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    people: pd.DataFrame,
    measures: Mapping[str, Measure],
    strength_key: str,
) -> Iterator[FittedLink]:
    """The links of `mass_links` in the same order, each with what it was fitted to.

    One by one: the columns of all of a large program would not fit in memory together.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    inside = comparable_sessions(session_values, measures)
    strength = _main_line(inside.loc[inside["measure"] == strength_key])
    error = measures[strength_key].typical_error if strength_key in measures else None
    reliability = _strength_reliability(strength, error)
    linked = {k for k, m in measures.items() if m.family in LINKED_FAMILIES}
    for (measure, line), sessions in by_line(inside.loc[inside["measure"].isin(linked)]):
        rows = link_rows(sessions, mass_trend, people, strength)
        held = None if measure == strength_key else reliability
        task = Task(measure=measure, line=line, form=choose_form(rows), reliability=held)
        yield from _scoped_links(task, rows)


def _main_line(sessions: pd.DataFrame) -> pd.DataFrame:
    """The sessions of the line with the most sessions."""
    if sessions.empty:
        return sessions
    return sessions[sessions["line"] == sessions["line"].value_counts().sort_index().idxmax()]


def _scoped_links(task: Task, rows: LinkRows) -> Iterator[FittedLink]:
    """The links of the program and of each camp; with one camp the two are the same."""
    camps = sorted({str(c) for c in rows.camp})
    if len(camps) == 1:
        program = [_link(task, "program", rows, a) for a in ADJUSTMENTS]
        yield from program
        yield from (replace(k, link=replace(k.link, scope=camps[0])) for k in program)
        return
    scopes = [("program", rows), *((camp, rows.only(rows.camp.astype(str) == camp)) for camp in camps)]
    yield from (_link(task, scope, part, a) for scope, part in scopes for a in ADJUSTMENTS)


def _strength_reliability(strength: pd.DataFrame, typical_error: float | None) -> float | None:
    """The share of an athlete's own strength changes, off their line on log time, that is not test error."""
    if strength.empty or typical_error is None:
        return None
    stay = strength["stay_id"].to_numpy(dtype=object)
    time = time_columns("log", strength["t"].to_numpy(dtype=float))[:, 0]
    value = strength["value"].to_numpy(dtype=float)
    value, time = value - group_means(stay, value), time - group_means(stay, time)
    codes, labels = pd.factorize(stay)
    spread = np.bincount(codes, time * time)
    slope = np.bincount(codes, time * value) / np.where(spread > 0, spread, 1.0)
    rest = value - slope[codes] * time
    degrees = len(value) - len(labels) - int(np.sum(spread > 0))
    if degrees < 1:
        return None
    observed = float(rest @ rest)
    return max(0.0, 1.0 - typical_error**2 * degrees / observed) if observed > 0.0 else 0.0


def choose_form(rows: LinkRows) -> str:
    """The time form with the best likelihood less its number of columns (AIC); log where too few athletes.

    The likelihoods, not the REML criteria, are compared, because the forms differ in the fixed effects. A
    large program is represented by every k-th stay.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    rows = rows.only(every_kth(rows.stay))
    if rows.n_informative < FEWEST_ATHLETES:
        return FORMS[0]
    scores = [_information(_fit(rows, time_columns(form, rows.weeks), own_slope=True)) for form in FORMS]
    return FORMS[int(np.argmin(scores))]


def _information(fit: MixedFit) -> float:
    """Deviance by maximum likelihood at the fitted variances, plus two for each fixed effect."""
    free = fit.n_rows - len(fit.beta)
    variance = fit.sigma**2 * free / fit.n_rows
    deviance = unit_plus(fit.sums.root @ fit.L)[1].sum() + fit.n_rows * (1.0 + np.log(2.0 * np.pi * variance))
    return float(deviance) + 2.0 * len(fit.beta)


def _fit(rows: LinkRows, others: Floats, *, own_slope: bool) -> MixedFit:
    """The fit; own mass is its last fixed column, starting mass the one before."""
    x, z = _columns(rows, others, own_slope=own_slope)
    return fit_random_slope(rows.stay, rows.value, x, z)


def _columns(rows: LinkRows, others: Floats, *, own_slope: bool) -> tuple[Floats, Floats]:
    """The fixed (N, p) columns the data can tell apart and the random (N, 1 or 2) ones."""
    full = fixed_columns(rows, others)
    ones = np.ones(len(rows.value))
    random = np.column_stack([ones, others[:, 0]]) if own_slope else ones[:, None]
    return full[:, independent(full)], random


def _estimate(rows: LinkRows, others: Floats, *, own_slope: bool) -> Slope | None:
    """The slope on own mass; None where own mass does not vary or there is nothing left to judge it by."""
    kept = independent(fixed_columns(rows, others))
    if not len(kept) or not kept[-1]:
        return None
    x, z = _columns(rows, others, own_slope=own_slope)
    fit = fit_random_slope(rows.stay, rows.value, x, z)
    by_model = float(np.sqrt(fit.beta_cov[-1, -1]))
    plain = _clustered(rows, fit)
    n, free = rows.n_informative, float(rows.n_informative - len(fit.beta))
    few = GroupError(standard_error=plain * n / max(free, 1.0), degrees=free)
    clusters = own_mass_error(rows, others) if own_slope else few
    if clusters.degrees < 1.0:
        return None
    by_cluster = clusters.standard_error
    error = float(np.hypot(max(by_model, by_cluster), _bridge_error(rows, fit, x, z)))
    half = float(stats.t.ppf(0.5 + LEVEL / 2, clusters.degrees)) * error
    own = float(fit.beta[-1])
    return Slope(
        per_kg=own,
        standard_error=error,
        low=own - half,
        high=own + half,
        between=float(fit.beta[-2]) if kept[-2] else None,
        x=x,
        z=z,
        factor=fit.L,
        few=by_cluster / plain if plain > 0.0 else 1.0,
        degrees=clusters.degrees,
    )


def _clustered(rows: LinkRows, fit: MixedFit) -> float:
    """The athlete-clustered error of the last coefficient without any factor for few athletes."""
    owner = dict(zip(rows.stay, rows.athlete, strict=True))  # two stays of an athlete are not independent
    return float(np.sqrt(fit.robust_cov(owner)[-1, -1]))


def _bridge_error(rows: LinkRows, fit: MixedFit, x: Floats, z: Floats) -> float:
    """What the offsets of bridges may do to the slope."""
    if not rows.offset_error.shape[1]:
        return 0.0
    return float(np.sqrt(offset_variance(rows, x, z, fit)))


def _adjusted(rows: LinkRows, adjustment: str, form: str) -> tuple[LinkRows, Floats, Floats]:
    """The rows an adjustment can use, its time columns (N, k) and the strength columns (N, 0 or 2)."""
    none = np.empty((len(rows.value), 0))
    if adjustment == "none":
        return rows, none, none
    if adjustment == "time":
        return rows, time_columns(form, rows.weeks), none
    part = rows.only(np.isfinite(rows.strength))
    start = group_first(part.stay, part.strength)
    return part, time_columns(form, part.weeks), np.column_stack([part.strength - start, start])


def _link(task: Task, scope: str, all_rows: LinkRows, adjustment: str) -> FittedLink:
    rows, time, strength = _adjusted(all_rows, adjustment, task.form)
    others = np.column_stack([time, strength])
    design = own_mass(rows, others) if len(rows.value) and time.shape[1] else None
    high = design.inflation if design else None
    reason = _refusal(rows, adjustment, design, task.reliability)
    slope = None if reason else _estimate(rows, others, own_slope=bool(time.size))
    if slope is None and not reason:
        reason = "own body mass does not vary enough to carry a slope"
    spans = slope is not None and slope.low <= 0.0 <= slope.high
    link = MassLink(
        scope=scope,
        measure=task.measure,
        line=task.line,
        adjustment=adjustment,
        per_kg=slope.per_kg if slope else None,
        standard_error=slope.standard_error if slope else None,
        low=slope.low if slope else None,
        high=slope.high if slope else None,
        between_per_kg=slope.between if slope else None,
        n_athletes=rows.n_informative if adjustment == "none" else rows.n_with_lines,
        n_sessions=len(rows.value),
        inflation=high if high is None or np.isfinite(high) else None,
        time_form="none" if adjustment == "none" else task.form,
        verdict="refused" if slope is None else "may be zero" if spans else "estimated",
        reason=reason or _caution(adjustment, spans),
        level=LEVEL,
        method=METHOD,
    )
    return FittedLink(link=link, rows=rows, slope=slope)


def _caution(adjustment: str, spans: bool) -> str:
    if adjustment == "none":
        return "time in the program is left out: not the effect of mass, shown as a warning"
    return "the interval spans zero" if spans else ""


def _refusal(rows: LinkRows, adjustment: str, design: OwnMass | None, reliability: float | None) -> str:
    """Why no slope may be given, or ''."""
    if adjustment == "time and strength" and (reliability is None or reliability < LEAST_RELIABILITY):
        return "strength is not measured well enough to be held constant"
    n, sessions = (rows.n_informative, "two") if adjustment == "none" else (rows.n_with_lines, "three")
    if n < FEWEST_ATHLETES:
        return f"{n} athletes with {sessions} sessions and a body mass, {FEWEST_ATHLETES} are needed"
    if copied(rows):
        return COPIED
    if design is not None and not says_enough(design):
        return OWN_RATE_ONLY
    return ""


def says_enough(design: OwnMass) -> bool:
    """Whether the half-width for the usual gain is at most one SD of the output off its own lines.

    The half-width per kg is t SD / sqrt(left); times the usual gain it is at most SD where left is at least
    (t gain)2. It asks the design only, so that which links are given does not hang on what they say.
    """
    if design.degrees < LEAST_DEGREES or not np.isfinite(design.inflation):
        return False
    quantile = float(stats.t.ppf(0.5 + LEVEL / 2, design.degrees))
    return design.left >= (quantile * max(design.usual_gain, LEAST_GAIN)) ** 2
