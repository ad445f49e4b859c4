"""Strength for body size over a stay: lifted load over mass to the power 2/3, described and not judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.results import MeasurementError
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.stats.links.link_design import MASS_GAP_DAYS, Floats, carry
from latewood.pipeline.stats.links.results import RelativeStrength
from latewood.pipeline.stats.links.strength import FORCE_EXPONENT, per_body_size

LEVEL = 0.90
NORMAL = 1.644854
FEWEST_TESTS = 3
METHOD = (
    "load over mass to the power {exponent:.3f} at each test (smoothed mass), own least-squares line; interval from "
    "the typical error of a test and the error of the mass; log scale for the change"
)


def relative_strengths(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    measures: Mapping[str, Measure],
    errors: Sequence[MeasurementError],
) -> tuple[RelativeStrength, ...]:
    """One row per stay and line of a lifted load (a measure with a formula for repetitions).

    Both ends lie on the athlete's own line through log strength, log mass and their ratio at their tests, so
    that the ratio of the ends is the end of the ratio. Exponent 2/3: Jaric 2002, Sports Med 32(10):615-631.
    Refused under three tests with a body mass near, or where no typical error is known.
    Raises ValueError where a body mass is not above zero.
    """
    inside = comparable_sessions(session_values, measures)
    lifted = {key for key, measure in measures.items() if measure.rep_formula}
    known = {(e.measure, e.line): e.typical_error for e in errors}
    result: list[RelativeStrength] = []
    for key, sessions in by_line(inside.loc[inside["measure"].isin(lifted)]):
        mass = carry(
            mass_trend, sessions, ("smoothed_kg", "smoothed_se"), day="on_date", within_days=MASS_GAP_DAYS
        )
        error = known.get(key) or measures[key[0]].typical_error
        table = sessions.assign(kg=mass[:, 0], kg_se=mass[:, 1])
        for stay, own in table.groupby("stay_id", sort=True):
            result.append(_relative(key, str(stay), own, error))
    return tuple(result)


def _relative(key: tuple[str, str], stay: str, own: pd.DataFrame, error: float | None) -> RelativeStrength:
    use = own.loc[np.isfinite(own["kg"]) & (own["value"] > 0.0)]
    weeks = use["t"].to_numpy(dtype=float)
    reason = ""
    if len(use) < FEWEST_TESTS or np.ptp(weeks) <= 0.0:
        reason = f"{len(use)} tests with a body mass near, {FEWEST_TESTS} are needed"
    elif error is None:
        reason = "the typical error of a test is not known"
    elif error >= float(use["value"].min()):  # shares of such loads have no interval
        reason = "the typical error of a test is as large as the load"
    ends = None if reason or error is None else _ends(use, weeks, error)
    return RelativeStrength(
        athlete_id=str(own["athlete_id"].iloc[0]),
        stay_id=stay,
        measure=key[0],
        line=key[1],
        first_on=use["held_on"].iloc[0].date() if len(use) else None,
        last_on=use["held_on"].iloc[-1].date() if len(use) else None,
        n_tests=len(use),
        start_strength=ends[0] if ends else None,
        end_strength=ends[1] if ends else None,
        start_mass=ends[2] if ends else None,
        end_mass=ends[3] if ends else None,
        start_relative=float(per_body_size(ends[0], ends[2])) if ends else None,
        end_relative=float(per_body_size(ends[1], ends[3])) if ends else None,
        change_percent=ends[4] if ends else None,
        low=ends[5] if ends else None,
        high=ends[6] if ends else None,
        exponent=FORCE_EXPONENT,
        verdict="shown" if ends else "refused",
        reason=reason,
        level=LEVEL,
        method=METHOD.format(exponent=FORCE_EXPONENT),
    )


def _ends(use: pd.DataFrame, weeks: Floats, error: float) -> tuple[float, ...]:
    """Strength and mass at both ends of the line, and the change of their ratio with its interval, %."""
    load, kg = use["value"].to_numpy(dtype=float), use["kg"].to_numpy(dtype=float)
    off = weeks - weeks.mean()
    weight = off / float(off @ off)
    span = float(np.ptp(weeks))
    log_load, log_kg = np.log(load), np.log(kg)
    ends: list[float] = []
    for value in (log_load, log_kg):
        slope = float(weight @ value)
        middle = float(value.mean())
        ends += [float(np.exp(middle + slope * off[0])), float(np.exp(middle + slope * off[-1]))]
    change = span * float(weight @ (log_load - FORCE_EXPONENT * log_kg))
    noise = (error / load) ** 2 + (FORCE_EXPONENT * use["kg_se"].to_numpy(dtype=float) / kg) ** 2
    half = NORMAL * span * float(np.sqrt(np.sum(weight**2 * noise)))
    return (*ends, *(100.0 * float(np.expm1(v)) for v in (change, change - half, change + half)))
