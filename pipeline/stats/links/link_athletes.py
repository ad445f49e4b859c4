"""One athlete's observed change beside the change that goes with their added mass."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from latewood.pipeline.stats.change.difference import RangedValue, of_estimates
from latewood.pipeline.stats.change.results import Trend
from latewood.pipeline.stats.links.link_design import MASS_GAP_DAYS, Floats, carry
from latewood.pipeline.stats.links.results import AthleteLink, MassLink

GRID = 2.0**-32  # amounts are kept on this grid so that the rows add up to the last bit
NORMAL = 1.959964
METHOD = (
    "observed: the athlete's own line; mass: the same line through the smoothed mass of the same sessions; "
    "expected: per kg times mass change (variance of a product); unexplained: interval by the MOVER"
)


def athlete_links(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    trends: Sequence[Trend],
    links: Sequence[MassLink],
) -> tuple[AthleteLink, ...]:
    """For each trend of a line with a link: observed change = expected from added mass + unexplained, exactly.

    The mass change is taken by the athlete's own least-squares line through the same sessions as the
    observed change, so that the two answer the same question. Expected uses the program's link at equal time
    and is an average over athletes: what one athlete gains per kg differs. Intervals: product of two
    estimates, Goodman 1960, J Am Stat Assoc 55:708; difference of two intervals, Zou & Donner 2008, Stat Med
    27:1693. Refused, with observed and mass change still given, where the link or the trend is missing.
    """
    by_line = {(k.measure, k.line): k for k in links if k.scope == "program" and k.adjustment == "time"}
    wanted = [t for t in trends if (t.measure, t.line) in by_line]
    if not wanted:
        return ()
    masses = _mass_changes(session_values, mass_trend, wanted)
    return tuple(
        _athlete_link(trend, by_line[trend.measure, trend.line], float(kg), float(se))
        for trend, (kg, se) in zip(wanted, masses, strict=True)
    )


def _mass_changes(session_values: pd.DataFrame, mass_trend: pd.DataFrame, trends: Sequence[Trend]) -> Floats:
    """Mass change and its standard error (len(trends), 2) over the sessions of each trend; NaN if unknown."""
    keys = pd.DataFrame({
        "stay_id": [t.stay_id for t in trends],
        "measure": [t.measure for t in trends],
        "line": [t.line for t in trends],
        "over_weeks": [t.weeks for t in trends],
        "with_intake": [t.intake_used for t in trends],
        "trend": np.arange(len(trends)),
    })
    rows = session_values.merge(keys, on=["stay_id", "measure", "line"], how="inner")
    held = pd.to_datetime(rows["held_on"])
    intake = rows["is_intake"].astype(bool) & (held == held.groupby(rows["trend"]).transform("min"))
    rows = rows.loc[rows["with_intake"].astype(bool) | ~intake]
    mass = carry(mass_trend, rows, ("smoothed_kg", "smoothed_se"), day="on_date", within_days=MASS_GAP_DAYS)
    known = np.isfinite(mass).all(axis=1)
    mass = mass[known]
    which, weeks = rows["trend"].to_numpy()[known], rows["weeks"].to_numpy(dtype=float)[known]
    over = rows["over_weeks"].to_numpy(dtype=float)[known]
    size = len(trends)
    count = np.bincount(which, minlength=size)
    off = weeks - (np.bincount(which, weeks, size) / np.maximum(count, 1))[which]
    spread = np.bincount(which, off * off, size)
    weight = off / np.where(spread > 0, spread, np.nan)[which] * over
    change = np.bincount(which, weight * mass[:, 0], size)
    error = np.sqrt(np.bincount(which, (weight * mass[:, 1]) ** 2, size))
    unknown = (count < 2) | ~(spread > 0)
    return np.where(unknown[:, None], np.nan, np.column_stack([change, error]))


def _on_grid(value: float) -> float:
    return round(value / GRID) * GRID


def _athlete_link(trend: Trend, link: MassLink, mass: float, mass_se: float) -> AthleteLink:
    known = bool(np.isfinite(mass) and np.isfinite(mass_se))
    observed = None if trend.change is None else _on_grid(trend.change)
    expected = _expected(link, mass, mass_se) if known else None
    left = None
    if observed is not None and expected is not None and trend.low is not None and trend.high is not None:
        left = _difference((observed, trend.low, trend.high), expected)
    reason = _refusal(trend, link, known)
    made = expected if left else None
    return AthleteLink(
        athlete_id=trend.athlete_id,
        stay_id=trend.stay_id,
        measure=trend.measure,
        line=trend.line,
        observed=observed,
        observed_low=trend.low,
        observed_high=trend.high,
        mass_change=mass if known else None,
        mass_change_low=mass - NORMAL * mass_se if known else None,
        mass_change_high=mass + NORMAL * mass_se if known else None,
        expected=made[0] if made else None,
        expected_low=made[1] if made else None,
        expected_high=made[2] if made else None,
        left_over=left[0] if left else None,
        left_over_low=left[1] if left else None,
        left_over_high=left[2] if left else None,
        n_sessions=trend.n_sessions,
        verdict="estimated" if left else "refused",
        reason="" if left else reason,
        level=trend.level,
        method=METHOD,
    )


def _expected(link: MassLink, mass: float, mass_se: float) -> tuple[float, float, float] | None:
    """Change that goes with the mass change, and its interval; None where the link is refused."""
    if link.per_kg is None or link.standard_error is None or link.low is None or link.high is None:
        return None
    error = link.standard_error
    quantile = (link.high - link.low) / (2.0 * error)
    variance = (link.per_kg * mass_se) ** 2 + (mass * error) ** 2 + (mass_se * error) ** 2
    amount, half = _on_grid(link.per_kg * mass), quantile * float(np.sqrt(variance))
    return amount, amount - half, amount + half


def _difference(
    whole: tuple[float, float, float], part: tuple[float, float, float]
) -> tuple[float, float, float]:
    """Whole less part with its interval from the two intervals, taken as independent (the MOVER)."""
    left = of_estimates(_ranged(part), _ranged(whole))
    return left.value, left.low, left.high


def _ranged(numbers: tuple[float, float, float]) -> RangedValue:
    return RangedValue(value=numbers[0], low=numbers[1], high=numbers[2])


def _refusal(trend: Trend, link: MassLink, known: bool) -> str:
    if trend.change is None or trend.low is None:
        return trend.reason or "too few sessions for a change"
    if link.per_kg is None:
        return link.reason
    return "" if known else "no body mass near enough to the sessions"
