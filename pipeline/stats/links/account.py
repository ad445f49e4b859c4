"""The account of one athlete's change: what fits time, learning the test, mass and strength, and the rest.

The change is that of the athlete's own line with the intake day as it was tested. Time, learning, mass and
strength are the terms of the mass link's model, weighted the way their own line weights their sessions; the rest
is their own. Nothing here says cause: a term holds whatever went along with it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.results import Trend
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.stats.links.account_fit import (
    AccountFit,
    OwnLine,
    fit_account,
    has_double_baseline,
    own_lines_of,
)
from latewood.pipeline.stats.links.link_design import Floats, link_rows
from latewood.pipeline.stats.links.mass_link import FEWEST_ATHLETES
from latewood.pipeline.stats.links.results import AccountRow, MassLink

ACCOUNT_FAMILIES = ("skill_output", "speed", "jump_power")
GRID = 2.0**-32  # amounts are kept on this grid so that the rows add up to the last bit
NORMAL = 1.959964
ROWS = ("start", "time", "learning", "mass", "strength", "unexplained", "end")
GROWTH_AND_PRACTICE = "growth and practice, which cannot be separated"
WITH_LEARNING = "growth, practice and learning the test, which cannot be separated"
TIME_AND_MASS = "growth, practice and added mass, which cannot be separated"
LEARNING_AND_MASS = "growth, practice, added mass and learning the test, which cannot be separated"
NO_LINK = "within time and not explained: mass kept too close to each athlete's own pace"
NO_DOUBLE = "within time: too few stays of this line have two baseline days"
NO_INTAKE = "the first test day is not in this change"
FIRST_DAY = "travel and a poor first day are in it"
WITH_STRENGTH = "mass, with what strength brings along"
STRENGTH_HELD = "mass at equal strength"
ONLY_WITH_MASS = "within mass: strength cannot be held constant here"
NO_STRENGTH = "within mass: this stay has no strength tests near its sessions"
REST = "own pace, sleep, technique and the luck of test days, which cannot be separated"
METHOD = (
    "own line through the sessions as tested; parts: terms of the mass link's model with {form} time, weighted "
    "as that line weights the sessions; intervals from the covariance of the coefficients"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One amount between start and end: how it weighs the coefficients (p,), and variance of its own."""

    at: Floats
    amount: float
    extra: float  # variance from what is itself measured: the mass change, the strength change


@dataclass(frozen=True, slots=True, kw_only=True)
class LineAccount:
    """One line made ready: its fits, the own lines of its trends, and whether learning is told from time."""

    plain: AccountFit
    joint: AccountFit | None
    own: OwnLine
    double: bool
    form: str


def accounts(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    people: pd.DataFrame,
    trends: Sequence[Trend],
    links: Sequence[MassLink],
    measures: Mapping[str, Measure],
    strength_key: str,
) -> tuple[AccountRow, ...]:
    """Seven rows for each stay and line of skill, speed or jump with a change and a link of the program.

    start + time + learning + mass + strength + unexplained = end to the last bit, where a part that cannot
    be separated is None and lies within the row that its `bracket` names. Learning has a row of its own only
    where enough stays of the line had a double baseline; strength only where the program's link 'time and
    strength' is identified and the stay has strength tests near its sessions; mass only where the program has a
    link. No rows where the trend has no interval, fewer than 15 athletes carry the line or no body mass is near the
    sessions: `AthleteLink` says why.
    Canonical units; intervals at the trend's level.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    inside = comparable_sessions(session_values, measures)
    tests = inside.loc[inside["measure"] == strength_key]
    strength_line = _main_line(tests)
    strength = tests.loc[tests["line"] == strength_line]
    error = measures[strength_key].typical_error if strength_key in measures else None
    wanted = {k for k, m in measures.items() if m.family in ACCOUNT_FAMILIES}
    by_key = _by_line(t for t in trends if t.change is not None and t.low is not None and t.weeks > 0.0)
    program = {(k.measure, k.line, k.adjustment): k for k in links if k.scope == "program"}
    result: list[AccountRow] = []
    for key, sessions in by_line(inside.loc[inside["measure"].isin(wanted)]):
        link = program.get((*key, "time"))
        if link is None or link.n_athletes < FEWEST_ATHLETES or key not in by_key:
            continue
        rows = link_rows(sessions, mass_trend, people, strength)
        plain = fit_account(rows, link)
        if plain is None:
            continue
        held = program.get((*key, "time and strength"))
        line = LineAccount(
            plain=plain,
            joint=fit_account(rows, held) if held is not None and held.per_kg is not None else None,
            own=own_lines_of(sessions, mass_trend, (strength, error), by_key[key], link.time_form),
            double=has_double_baseline(sessions),
            form=link.time_form,
        )
        for k, trend in enumerate(by_key[key]):
            result += _account(line, k, trend)
    return tuple(result)


def _main_line(tests: pd.DataFrame) -> str:
    """The line with the most sessions, the first by name where two have as many; '' without any."""
    return "" if tests.empty else str(tests["line"].value_counts().sort_index().idxmax())


def _by_line(trends: Iterator[Trend]) -> dict[tuple[str, str], list[Trend]]:
    result: dict[tuple[str, str], list[Trend]] = {}
    for trend in trends:
        result.setdefault((trend.measure, trend.line), []).append(trend)
    return result


def _account(line: LineAccount, k: int, trend: Trend) -> list[AccountRow]:
    own = line.own
    if trend.low is None or trend.high is None or trend.stay_id not in line.plain.fit.index:
        return []
    if not np.isfinite([own.total[k], own.kg[k], own.kg_se[k]]).all():
        return []
    fit = _fit_for(line, k, trend.stay_id)
    parts = _parts(fit, line, k)
    half = (trend.high - trend.low) / 2.0
    start, total = on_grid(float(own.start[k])), on_grid(float(own.total[k]))
    left = total - sum(part.amount for part in parts.values())
    halves = {name: fit.quantile * _variance(fit, part) ** 0.5 for name, part in parts.items()}
    halves["unexplained"] = _unexplained_half(fit, line, k, trend.stay_id, (parts, half))
    halves["start"], halves["end"] = half * float(own.start_share[k]), half * float(own.end_share[k])
    amounts = {name: part.amount for name, part in parts.items()}
    amounts |= {"start": start, "unexplained": left, "end": start + total}
    brackets = _brackets(line, own.intake[k] != 0.0, fit)
    return [
        replace(
            _row(trend, line.form, position, (amounts.get(name), halves.get(name))),
            bracket=brackets[name],
            mass_change=float(own.kg[k]) if name == "mass" else None,
        )
        for position, name in enumerate(ROWS)
    ]


def _fit_for(line: LineAccount, k: int, stay_id: str) -> AccountFit:
    """The joint model where there is one and the stay has strength tests near its sessions, else the plain."""
    known = line.joint is not None and stay_id in line.joint.fit.index and np.isfinite(line.own.lifted[k])
    return line.joint if known and line.joint is not None else line.plain


def _parts(fit: AccountFit, line: LineAccount, k: int) -> dict[str, Part]:
    own = line.own
    time = _weights(fit, {place: own.course[k, c] for c, place in enumerate(fit.time)})
    first = _weights(fit, {} if fit.intake is None else {fit.intake: own.intake[k]})
    parts: dict[str, Part] = {}
    if line.double and own.intake[k] != 0.0 and fit.intake is not None:
        parts["time"], parts["learning"] = _part(fit, time), _part(fit, first)
    else:
        parts["time"] = _part(fit, time + first)
    if fit.mass is not None:
        parts["mass"] = _measured(fit, fit.mass, float(own.kg[k]), float(own.kg_se[k]))
    if fit.strength is not None:
        parts["strength"] = _measured(fit, fit.strength, float(own.lifted[k]), float(own.lifted_se[k]))
    return parts


def _weights(fit: AccountFit, places: Mapping[int, float]) -> Floats:
    at = np.zeros(fit.n_fixed)
    for place, weight in places.items():
        at[place] = weight
    return at


def _part(fit: AccountFit, at: Floats) -> Part:
    return Part(at=at, amount=on_grid(float(at @ fit.fit.beta)), extra=0.0)


def _measured(fit: AccountFit, place: int, change: float, error: float) -> Part:
    """A coefficient times a change that is itself measured (variance of a product: Goodman 1960)."""
    at, one = _weights(fit, {place: change}), _weights(fit, {place: 1.0})
    own = float(fit.fit.beta[place]) ** 2 + fit.variance(one)
    return Part(at=at, amount=on_grid(float(at @ fit.fit.beta)), extra=own * error**2)


def _variance(fit: AccountFit, part: Part) -> float:
    return fit.variance(part.at) + part.extra


def _unexplained_half(
    fit: AccountFit, line: LineAccount, k: int, stay_id: str, given: tuple[Mapping[str, Part], float]
) -> float:
    """Half the interval of total less parts: both variances less twice what they share."""
    parts, half = given
    at = np.sum([part.at for part in parts.values()], axis=0)
    variance = fit.variance(at) + sum(part.extra for part in parts.values())
    own = _weights(fit, {place: line.own.course[k, c] for c, place in enumerate(fit.time)})
    if fit.mass is not None:
        own[fit.mass] = line.own.kg[k]
    if fit.intake is not None:
        own[fit.intake] = line.own.intake[k]
    if fit.strength is not None:
        own[fit.strength] = at[fit.strength]
    shared = fit.shared(stay_id, own, at, float(line.own.course[k, 0]))
    limit = half / NORMAL * variance**0.5  # a covariance cannot be larger
    shared = min(max(shared, -limit), limit)
    square = half**2 + fit.quantile**2 * variance - 2.0 * NORMAL * fit.quantile * shared
    return float(max(square, 0.0) ** 0.5)


def _brackets(line: LineAccount, with_intake: bool, fit: AccountFit) -> dict[str, str]:
    estimate, joint = line.double and with_intake, fit.strength is not None
    alone, with_learning = (
        (GROWTH_AND_PRACTICE, WITH_LEARNING) if fit.mass is not None else (TIME_AND_MASS, LEARNING_AND_MASS)
    )
    without = ONLY_WITH_MASS if line.joint is None else NO_STRENGTH
    return {
        "start": "",
        "time": alone if estimate or not with_intake else with_learning,
        "learning": FIRST_DAY if estimate else NO_DOUBLE if with_intake else NO_INTAKE,
        "mass": NO_LINK if fit.mass is None else STRENGTH_HELD if joint else WITH_STRENGTH,
        "strength": "" if joint else NO_LINK if fit.mass is None else without,
        "unexplained": REST,
        "end": "",
    }


def on_grid(value: float) -> float:
    """The value on the grid on which sums are exact."""
    return round(value / GRID) * GRID


def _row(trend: Trend, form: str, position: int, given: tuple[float | None, float | None]) -> AccountRow:
    amount, half = given
    return AccountRow(
        athlete_id=trend.athlete_id,
        stay_id=trend.stay_id,
        measure=trend.measure,
        line=trend.line,
        position=position,
        row=ROWS[position],
        amount=amount,
        low=None if amount is None or half is None else amount - half,
        high=None if amount is None or half is None else amount + half,
        bracket="",
        mass_change=None,
        n_sessions=trend.n_sessions,
        level=trend.level,
        method=METHOD.format(form=form),
    )
