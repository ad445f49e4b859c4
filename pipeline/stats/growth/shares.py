"""Of what a young athlete gained, how much fits growth in height: one answer for each stay, one since the first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue import handles
from latewood.pipeline.stats.growth import cdc
from latewood.pipeline.stats.growth.results import GrowthShare
from latewood.pipeline.stats.links.link_design import MASS_GAP_DAYS, carry

ADULT_MONTHS = 240
LEAST_DAYS = 28  # between two heights; over less, growth is below the error of measurement
SAME_DAYS = 7  # heights this near to an end of the span are one baseline
LEVEL = 0.95
NORMAL = 1.959964
STEP = 1e-3  # cm and kg, of the numerical derivatives
METHOD = (
    "CDC 2000: mass at the height now reached with the body mass index percentile for age of the first day; "
    "interval from the errors of height and of the smoothed mass"
)
Around = tuple[float | None, float | None, float | None]  # a value with both ends of its interval
Who = tuple[cdc.Rows, str, date]  # the reference's rows, the sex, the birth date


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """The two ends of a span: heights in cm with their variance, and the rows that mass is looked up for."""

    athlete_id: str
    stay_id: str
    span: str
    days: tuple[date, date]
    stays: tuple[str, str]
    heights: tuple[float, float]
    variances: tuple[float, float]
    n_heights: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fits:
    """What of a gain fits growth and what is beyond it, kg with both ends of their intervals; or why not."""

    by_build: Around = (None, None, None)
    beyond: Around = (None, None, None)
    by_age: float | None = None
    reason: str = ""


def growth_shares(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    people: pd.DataFrame,
    reference: pd.DataFrame,
    height_error: float | None,
) -> tuple[GrowthShare, ...]:
    """For each stay of an athlete under 20 with two heights: change in height, in mass, and what fits growth.

    `span` is "stay" for the first to the last height of the stay, "all stays" for the first height on record
    to the last of the stay. `height_error` is the typical error of one height, cm; `reference` the rows of
    cdc_lms.csv. Heights within a week of an end count as one. A fall in height within its own error counts as
    no growth. Refused under four weeks, without body mass near the days, where the error of height is not
    known, and where `growth.growth_share` refuses. Athletes without birth date or sex have no row.
    """
    heights = session_values[
        (session_values["measure"] == handles.STANDING_HEIGHT)
        & session_values["stay_id"].notna()
        & session_values["value"].notna()
    ].copy()
    heights["on"] = pd.to_datetime(heights["held_on"]).dt.date
    heights = heights.sort_values(["athlete_id", "on", "session_id"], kind="stable", ignore_index=True)
    known = people.loc[people["birth_date"].notna() & people["sex"].isin(["male", "female"])]
    born = dict(zip(known["athlete_id"], pd.to_datetime(known["birth_date"]).dt.date, strict=True))
    sexes = dict(zip(known["athlete_id"], known["sex"], strict=True))
    spans = [e for e in _spans(heights, height_error or 0.0) if _is_young(born.get(e.athlete_id), e.days[1])]
    if not spans:
        return ()
    requested = pd.DataFrame({
        "stay_id": [stay for e in spans for stay in e.stays],
        "held_on": [day for e in spans for day in e.days],
    })
    rows = cdc.rows_of(reference)
    mass = carry(
        mass_trend, requested, ("smoothed_kg", "smoothed_se"), day="on_date", within_days=MASS_GAP_DAYS
    )
    return tuple(
        _share(
            ends,
            (rows, str(sexes[ends.athlete_id]), born[ends.athlete_id]),
            mass[2 * k : 2 * k + 2],
            height_error,
        )
        for k, ends in enumerate(spans)
    )


def _is_young(born: date | None, on: date) -> bool:
    return born is not None and cdc.whole_months(born, on) < ADULT_MONTHS


def _spans(heights: pd.DataFrame, error: float) -> Iterator[Ends]:
    """Every span of every athlete; `heights` are sorted by athlete and day."""
    for _, own in heights.groupby("athlete_id", sort=True):
        stays = list(own["stay_id"].unique())
        for stay in stays:
            inside = own[own["stay_id"] == stay]
            if len(inside) > 1:
                yield _ends(inside, stay, "stay", error)
            before = own[own["on"] <= inside["on"].iloc[-1]]
            if before["stay_id"].iloc[0] != stay:
                yield _ends(before, stay, "all stays", error)


def _ends(rows: pd.DataFrame, stay_id: str, span: str, error: float) -> Ends:
    first, last = rows["on"].iloc[0], rows["on"].iloc[-1]
    week = timedelta(days=SAME_DAYS)
    groups = rows.loc[rows["on"] <= first + week, "value"], rows.loc[rows["on"] >= last - week, "value"]
    return Ends(
        athlete_id=str(rows["athlete_id"].iloc[0]),
        stay_id=str(stay_id),
        span=span,
        days=(first, last),
        stays=(str(rows["stay_id"].iloc[0]), str(rows["stay_id"].iloc[-1])),
        heights=(float(groups[0].mean()), float(groups[1].mean())),
        variances=(error**2 / len(groups[0]), error**2 / len(groups[1])),
        n_heights=len(rows),
    )


def _share(
    ends: Ends,
    who: Who,
    mass: np.ndarray,
    height_error: float | None,
) -> GrowthShare:
    """`mass` (2, 2) holds kg and its standard error at the two ends."""
    reason = _refusal(ends, mass, height_error)
    fits = Fits(reason=reason) if reason else _fits(ends, who, mass)
    change = ends.heights[1] - ends.heights[0]
    taller = _around(change if height_error is not None else None, _height_half(ends))
    gained = float(mass[1, 0] - mass[0, 0])
    weighed = _around(gained if np.isfinite(gained) else None, NORMAL * float(np.hypot(*mass[:, 1])))
    return GrowthShare(
        athlete_id=ends.athlete_id,
        stay_id=ends.stay_id,
        span=ends.span,
        first_on=ends.days[0],
        last_on=ends.days[1],
        n_heights=ends.n_heights,
        height_change=change,
        height_low=taller[1],
        height_high=taller[2],
        gained=weighed[0],
        gained_low=weighed[1],
        gained_high=weighed[2],
        fits_growth=fits.by_build[0],
        fits_low=fits.by_build[1],
        fits_high=fits.by_build[2],
        by_age=fits.by_age,
        beyond=fits.beyond[0],
        beyond_low=fits.beyond[1],
        beyond_high=fits.beyond[2],
        verdict="shown" if fits.by_build[0] is not None else "refused",
        reason=fits.reason,
        level=LEVEL,
        method=METHOD,
    )


def _fits(ends: Ends, who: Who, mass: np.ndarray) -> Fits:
    """What of the gain fits growth, with intervals by the delta method over the four measured values."""
    reference, sex, born = who
    months = (cdc.whole_months(born, ends.days[0]), cdc.whole_months(born, ends.days[1]))
    values = np.array([*ends.heights, *mass[:, 0]])
    if -_height_half(ends) <= values[1] - values[0] < 0.0:
        values[1] = values[0]
    result = _grown(reference, sex, months, values)
    fits_half = beyond_half = 0.0
    if result.by_build is not None:
        variances = np.array([*ends.variances, *mass[:, 1] ** 2])
        slopes = np.array([_slope(reference, sex, months, values, k) for k in range(4)])
        fits_half = NORMAL * float(np.sqrt(slopes**2 @ variances))
        beyond_half = NORMAL * float(np.sqrt((np.array([0.0, 0.0, -1.0, 1.0]) - slopes) ** 2 @ variances))
    return Fits(
        by_build=_around(result.by_build, fits_half),
        beyond=_around(result.beyond, beyond_half),
        by_age=result.by_age,
        reason=result.reason,
    )


def _height_half(ends: Ends) -> float:
    """Half the interval of the change in height, cm."""
    return NORMAL * float(np.sqrt(sum(ends.variances)))


def _refusal(ends: Ends, mass: np.ndarray, height_error: float | None) -> str:
    if (ends.days[1] - ends.days[0]).days < LEAST_DAYS:
        return "less than four weeks between the heights: growth is below the error of measurement"
    if height_error is None:
        return "the measurement error of height is not known"
    return "" if np.isfinite(mass).all() else "no body mass near the days on which height was measured"


def _grown(reference: cdc.Rows, sex: str, months: tuple[int, int], values: np.ndarray) -> cdc.ShareOfGain:
    """`values` (4,) are the two heights, then the two masses."""
    height, mass = (float(values[0]), float(values[1])), (float(values[2]), float(values[3]))
    return cdc.growth_share(reference, sex, months, height, mass)


def _slope(reference: cdc.Rows, sex: str, months: tuple[int, int], values: np.ndarray, at: int) -> float:
    """How far the mass that fits growth moves with one of the four values; 0 where neither side is given."""
    here = _grown(reference, sex, months, values).by_build
    for step in (STEP, -STEP):  # the other side where a step leaves what the reference allows
        moved = values.copy()
        moved[at] += step
        there = _grown(reference, sex, months, moved).by_build
        if here is not None and there is not None:
            return (there - here) / step
    return 0.0


def _around(value: float | None, half: float) -> Around:
    return (None, None, None) if value is None else (value, value - half, value + half)
