"""What an output gained per kg of the athlete's own added strength, at equal time in the program.

The same question as that of the mass link, for strength: y = 1 + own added strength + its mean over the stay
+ starting strength + age + f(t) + intake + camp, with an intercept and a slope on f(t) of each stay's own;
'time and mass' holds own mass, its mean and starting mass beside it. Strength is the fitted course of the
athlete (`strength_trend`), never the test of the day. Since a fitted course is smooth, the slope rests on
athletes who gained more strength than others in the same time: whatever makes an athlete gain more of both
is in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.stats.links.link_design import (
    COPIED,
    LINKED_FAMILIES,
    STRENGTH_GAP_DAYS,
    carry,
    copied,
    inflation,
    link_rows,
)
from latewood.pipeline.stats.links.results import MassLink, MassOrStrength, StrengthLink
from latewood.pipeline.stats.links.strength_carries import beside_mass_link, mass_or_strength
from latewood.pipeline.stats.links.strength_design import (
    LEVEL,
    WITH_MASS,
    Prepared,
    StrengthFit,
    fit_strength,
    prepare,
    start_mass,
)
from latewood.pipeline.stats.links.strength_trend import StrengthTrend, fit_strength_trend

ADJUSTMENTS = ("time", WITH_MASS)
FEWEST_ATHLETES = 15
MOST_INFLATION = 50.0
LEAST_RELIABILITY = 0.35  # of the fitted rates of strength; below, the correction is larger than what is seen
METHOD = (
    "within-between mixed model on the fitted course of strength, penalised REML; larger of the model's and "
    "the athlete-clustered standard error, with the error of the correction, t on athletes less fixed effects"
)


def strength_links(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    people: pd.DataFrame,
    measures: Mapping[str, Measure],
    strength_key: str,
    links: Sequence[MassLink],
) -> tuple[tuple[StrengthLink, ...], tuple[MassOrStrength, ...]]:
    """The link of every line of skill, speed and jump to the program's main line of strength.

    Two adjustments each: 'time' (with whatever came along with the strength, mass too) and 'time and mass'
    (at equal mass). Beside them, from the second: whether mass or strength carries more. The form of time
    is that of the mass link of the line. Refused under 15 athletes, where fitted gains of strength are
    mostly test error, and where strength rose with time (or mass) for everybody alike.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    inside = comparable_sessions(session_values, measures)
    tests = inside.loc[inside["measure"] == strength_key]
    line = "" if tests.empty else str(tests["line"].value_counts().sort_index().idxmax())
    tests = tests.loc[tests["line"] == line].reset_index(drop=True)
    forms = {
        (k.measure, k.line): k.time_form for k in links if (k.scope, k.adjustment) == ("program", "time")
    }
    own_rates = {
        (k.measure, k.line): k.reason
        for k in links
        if (k.scope, k.adjustment, k.verdict) == ("program", "time", "refused")
    }
    trends = _trends(tests, mass_trend, people)
    linked = {k for k, m in measures.items() if m.family in LINKED_FAMILIES and m.family != "strength"}
    result: list[StrengthLink] = []
    carried: list[MassOrStrength] = []
    for (measure, own_line), sessions in by_line(inside.loc[inside["measure"].isin(linked)]):
        form = forms.get((measure, own_line), "log")
        near = carry(tests, sessions, ("value",), day="held_on", within_days=STRENGTH_GAP_DAYS)[:, 0]
        usable = sessions.loc[np.isfinite(near)].reset_index(drop=True)
        rows = link_rows(usable, mass_trend, people, tests.iloc[:0], mass_needed=False)
        for adjustment in ADJUSTMENTS:
            ready = prepare(rows, mass_trend, trends[adjustment], adjustment, form)
            refused, fit, high = _fit_or_refuse(ready)
            result.append(_link((measure, own_line), (strength_key, line), ready, (refused, fit, high)))
        unlinked = own_rates.get((measure, own_line), "")
        carried.append(beside_mass_link(mass_or_strength((measure, own_line), ready, fit, refused), unlinked))
    return tuple(result), tuple(carried)


def _trends(
    tests: pd.DataFrame, mass_trend: pd.DataFrame, people: pd.DataFrame
) -> dict[str, StrengthTrend | None]:
    """The fitted courses for each adjustment; None where there is no model."""
    if tests.empty:
        return dict.fromkeys(ADJUSTMENTS)
    rows = link_rows(tests, mass_trend, people, tests.iloc[:0], mass_needed=False)
    start = start_mass(rows, mass_trend)
    weighed = np.isfinite(rows.mass) & np.isfinite(start)
    return {
        "time": fit_strength_trend(rows, start, with_mass=False),
        WITH_MASS: fit_strength_trend(rows.only(weighed), start[weighed], with_mass=True),
    }


def _fit_or_refuse(ready: Prepared) -> tuple[str, StrengthFit | None, float | None]:
    """Why there is no slope, or ''; the fit; the inflation of own strength."""
    rows, high = ready.rows, None
    if ready.trend is not None and rows.n_informative >= FEWEST_ATHLETES:
        beside = ready.held[:, -1:]
        high = inflation(replace(rows, mass=ready.strength), beside)
    reason = _refusal(ready, high)
    fit = None if reason else fit_strength(ready)
    if fit is None and not reason:
        reason = "own strength does not vary enough to carry a slope"
    return reason, fit, high


def _refusal(ready: Prepared, inflated: float | None) -> str:
    n = ready.rows.n_informative
    if ready.trend is None:
        return "too few stays with two strength tests"
    if n < FEWEST_ATHLETES:
        mass = " and a body mass" if ready.adjustment == WITH_MASS else ""
        return f"{n} athletes with two sessions near two strength tests{mass}, {FEWEST_ATHLETES} are needed"
    if copied(ready.rows):
        return COPIED
    if ready.trend.reliability < LEAST_RELIABILITY:
        return "differences between gains of strength are mostly test error: more or better tests are needed"
    if inflated is not None and inflated > MOST_INFLATION:
        others = "time and mass" if ready.adjustment == WITH_MASS else "time in the program"
        return f"strength and {others} rose together and cannot be separated"
    return ""


def _link(
    key: tuple[str, str],
    strength: tuple[str, str],
    ready: Prepared,
    given: tuple[str, StrengthFit | None, float | None],
) -> StrengthLink:
    reason, fit, high = given
    own = error = half = None
    if fit is not None:
        own = float(fit.fit.beta[-1])
        error = fit.variance(np.eye(len(fit.fit.beta))[-1]) ** 0.5
        half = fit.quantile * error
    spans = own is not None and half is not None and abs(own) <= half
    return StrengthLink(
        measure=key[0],
        line=key[1],
        strength_measure=strength[0],
        strength_line=strength[1],
        adjustment=ready.adjustment,
        per_kg=own,
        standard_error=error,
        low=None if own is None or half is None else own - half,
        high=None if own is None or half is None else own + half,
        between_per_kg=None if fit is None or fit.between is None else float(fit.fit.beta[fit.between]),
        n_athletes=ready.rows.n_informative,
        n_sessions=len(ready.rows.value),
        n_tests=0 if ready.trend is None else ready.trend.n_tests,
        reliability=None if ready.trend is None else ready.trend.reliability,
        inflation=high if high is None or np.isfinite(high) else None,
        time_form=ready.form,
        strength_form="none" if ready.trend is None else ready.trend.form,
        verdict="refused" if fit is None else "may be zero" if spans else "estimated",
        reason=reason or ("the interval spans zero" if spans else ""),
        level=LEVEL,
        method=METHOD,
    )
