"""How an output scales with body mass: the exponent of a log-log line, per cent per per cent.

For measures whose catalogue entry states a published exponent (forces and lifted loads); rapid movements do
not scale with mass (exponent 0: Markovic & Jaric 2004, Eur J Appl Physiol 92:139-149) and stay linear.
Two numbers: across athletes of one sex (what is published, and a check of it), and within athletes at equal
time in the program by the mass link's model on logs. The two answer different questions.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed import fit_random_slope
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.stats.links.link_design import (
    COPIED,
    Floats,
    LinkRows,
    copied,
    fixed_columns,
    independent,
    inflation,
    link_rows,
    time_columns,
)
from latewood.pipeline.stats.links.mass_link import FEWEST_ATHLETES, choose_form
from latewood.pipeline.stats.links.results import SizeExponent

MOST_INFLATION = 10.0
LEVEL = 0.95
LEAST_SPREAD = 0.05  # SD of log mass within a sex; below it all are of one size
METHOD = (
    "across: least squares of log output on log smoothed mass, one mean a person, each sex with its own level; within: "
    "within-between mixed model on logs at equal time, larger of the model's and the athlete-clustered error"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Exponent:
    """An exponent with its interval."""

    value: float
    low: float
    high: float


def size_exponents(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    people: pd.DataFrame,
    measures: Mapping[str, Measure],
) -> tuple[SizeExponent, ...]:
    """One result per line of a measure whose entry states `size_exponent`.

    Each number is given or left out on its own: across needs 15 athletes who differ in size, within what a
    mass link needs. The verdict compares the number across with the published one.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    inside = comparable_sessions(session_values, measures)
    scaling = {k: m.size_exponent for k, m in measures.items() if m.size_exponent is not None}
    result: list[SizeExponent] = []
    for (measure, line), sessions in by_line(inside.loc[inside["measure"].isin(scaling)]):
        rows = link_rows(sessions, mass_trend, people, inside.iloc[:0])
        rows = on_logs(rows.only((rows.value > 0.0) & (rows.mass > 0.0)))
        result.append(_result((measure, line), float(scaling[measure] or 0.0), rows, people))
    return tuple(result)


def on_logs(rows: LinkRows) -> LinkRows:
    """The same sessions with output and mass as natural logs, and their errors to first order."""
    return replace(
        rows,
        value=np.log(rows.value),
        mass=np.log(rows.mass),
        mass_se=rows.mass_se / rows.mass,
        offset_error=rows.offset_error / rows.value[:, None],
    )


def exponent_across(log_output: ArrayLike, log_mass: ArrayLike, sex: ArrayLike) -> Exponent | None:
    """The common slope (n,) of people of one sex by least squares, each sex with its own level.

    None under 15 people, or where all are of one size.
    """
    y, x, group = np.asarray(log_output, float), np.asarray(log_mass, float), np.asarray(sex, dtype=str)
    labels, codes = np.unique(group, return_inverse=True)
    free = len(y) - len(labels) - 1
    if len(y) < FEWEST_ATHLETES or free < 1:
        return None
    count = np.bincount(codes)
    own_x = x - (np.bincount(codes, x) / count)[codes]
    own_y = y - (np.bincount(codes, y) / count)[codes]
    spread = float(own_x @ own_x)
    if (spread / (len(y) - len(labels))) ** 0.5 < LEAST_SPREAD:
        return None
    slope = float(own_x @ own_y) / spread
    rest = own_y - slope * own_x
    half = float(stats.t.ppf(0.5 + LEVEL / 2.0, free)) * (float(rest @ rest) / free / spread) ** 0.5
    return Exponent(value=slope, low=slope - half, high=slope + half)


def _across(rows: LinkRows, people: pd.DataFrame) -> tuple[Exponent | None, int]:
    """The exponent over people whose sex is stated, by their means, and how many they are."""
    sex = people.set_index("athlete_id")["sex"]
    table = pd.DataFrame({"who": rows.athlete, "y": rows.value, "x": rows.mass}).groupby("who").mean()
    table["sex"] = sex.reindex(table.index)
    known = table.dropna()
    return exponent_across(known["y"], known["x"], known["sex"]), len(known)


def _within(rows: LinkRows, form: str) -> Exponent | None:
    """The exponent of an athlete's own mass at equal time; None where nothing is left to judge it by."""
    time = time_columns(form, rows.weeks)
    full = fixed_columns(rows, time)
    kept = independent(full)
    n, p = rows.n_informative, int(kept.sum())
    if n - p < 1 or not kept[-1]:
        return None
    random: NDArray[np.float64] = np.column_stack([np.ones(len(rows.value)), time[:, 0]])
    fit = fit_random_slope(rows.stay, rows.value, full[:, kept], random)
    owner = dict(zip(rows.stay, rows.athlete, strict=True))
    robust: Floats = fit.robust_cov(owner) * (n / (n - p)) ** 2
    half = float(stats.t.ppf(0.5 + LEVEL / 2.0, n - p)) * max(fit.beta_cov[-1, -1], robust[-1, -1]) ** 0.5
    own = float(fit.beta[-1])
    return Exponent(value=own, low=own - float(half), high=own + float(half))


def _result(key: tuple[str, str], published: float, rows: LinkRows, people: pd.DataFrame) -> SizeExponent:
    across, people_seen = _across(rows, people)
    form = choose_form(rows) if len(rows.value) else "log"
    enough = rows.n_informative >= FEWEST_ATHLETES
    high = inflation(rows, np.empty((len(rows.value), 0))) if enough else None
    same = copied(rows)
    within = _within(rows, form) if high is not None and high <= MOST_INFLATION and not same else None
    reasons = []
    if across is None:
        reasons.append(f"across: {people_seen} athletes, {FEWEST_ATHLETES} who differ in size are needed")
    if within is None:
        few = f"{rows.n_informative} athletes with two sessions and a body mass, {FEWEST_ATHLETES} are needed"
        given = COPIED if same else "mass and time in the program rose together"
        reasons.append(f"within: {given if enough else few}")
    if across is None:
        verdict = "refused"
    else:
        fits = across.low <= published <= across.high
        verdict = "fits the published value" if fits else "differs from the published value"
    return SizeExponent(
        measure=key[0],
        line=key[1],
        across=across.value if across else None,
        across_low=across.low if across else None,
        across_high=across.high if across else None,
        n_across=people_seen,
        published=published,
        within=within.value if within else None,
        within_low=within.low if within else None,
        within_high=within.high if within else None,
        n_athletes=rows.n_informative,
        n_sessions=len(rows.value),
        inflation=high if high is None or np.isfinite(high) else None,
        time_form=form,
        verdict=verdict,
        reason="; ".join(reasons),
        level=LEVEL,
        method=METHOD,
    )
