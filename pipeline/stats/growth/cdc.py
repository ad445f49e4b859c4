"""Height and mass beside the CDC 2000 growth reference, and how much of a gain growth alone explains.

Kuczmarski RJ et al. 2002, 2000 CDC growth charts for the United States, Vital Health Stat 11(246):1-190. The
table `cdc_lms.csv` beside this module holds its L, M and S values for 13 to 20 years; it is a work of the
United States government, in the public domain. Its columns are measure (height cm, weight kg, bmi kg/m²), sex
(male, female), age_months, L, M, S; the caller reads it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from latewood.pipeline.stats.engine.normal import norm

Floats = NDArray[np.float64]
Rows = Mapping[tuple[str, str, float], tuple[float, float, float]]  # measure, sex, age in months: L, M, S

HEIGHT: Final = "height"
WEIGHT: Final = "weight"
BMI: Final = "bmi"
OLDEST_MONTHS: Final = 240
LAST_ROW: Final = 240.0

# Above the 95th percentile the 2000 reference has too few children behind it (the CDC extended BMI by another
# method there in 2022); below the 5th a gain is not only growth.
CHANNEL_LOW: Final = 0.05
CHANNEL_HIGH: Final = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthStanding:
    """A height, mass or body mass index beside the reference; None with a reason where it cannot be."""

    z: float | None
    percentile: float | None  # 0-100
    row_months: float | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareOfGain:
    """How much of a change in mass fits growth alone, all in kg."""

    gained: float
    by_build: float | None  # same BMI percentile for age, at the height now reached
    by_age: float | None  # same weight percentile for age, whatever the height did
    beyond: float | None  # gained less `by_build`
    reason: str


def z_of(value: ArrayLike, L: ArrayLike, M: ArrayLike, S: ArrayLike) -> Floats:
    """Return ((value/M)^L - 1)/(L·S), or ln(value/M)/S where L is 0 (Cole & Green 1992, Stat Med 11:1305).

    All of one shape (n,), or numbers; `value` and M in one unit.
    """
    x, power, median, spread = (np.asarray(part, dtype=float) for part in (value, L, M, S))
    flat = np.where(power == 0.0, 1.0, power)
    curved = ((x / median) ** flat - 1.0) / (flat * spread)
    return np.asarray(np.where(power == 0.0, np.log(x / median) / spread, curved), dtype=float)


def value_of(z: ArrayLike, L: ArrayLike, M: ArrayLike, S: ArrayLike) -> Floats:
    """Return the measurement that has this z, the inverse of `z_of`.

    All of one shape (n,), or numbers; the result in the unit of M.
    """
    score, power, median, spread = (np.asarray(part, dtype=float) for part in (z, L, M, S))
    flat = np.where(power == 0.0, 1.0, power)
    curved = median * (1.0 + flat * spread * score) ** (1.0 / flat)
    return np.asarray(np.where(power == 0.0, median * np.exp(spread * score), curved), dtype=float)


def whole_months(born: date, on: date) -> int:
    """Return the completed months of age.

    >>> whole_months(date(2018, 7, 15), date(2033, 1, 14))
    173
    """
    return (on.year - born.year) * 12 + on.month - born.month - (on.day < born.day)


def row_of_age(months: int) -> float:
    """Return the age on the reference's row for so many completed months: month h stands in row h + 1/2.

    The twentieth birthday itself (240 months) has its own last row. So the CDC: "1.5 represents 1.0 to 1.99".
    """
    return LAST_ROW if months == OLDEST_MONTHS else months + 0.5


def body_mass_index(mass_kg: float, height_cm: float) -> float:
    """Return mass / height², in kg/m²."""
    return mass_kg / (height_cm / 100.0) ** 2


def standing(table: pd.DataFrame | Rows, measure: str, sex: str, months: int, value: float) -> GrowthStanding:
    """Return z and percentile of a value at so many completed months of age.

    Refused outside the rows of the table and past the twentieth birthday; nothing is interpolated.
    """
    row = _row(table, measure, sex, months)
    if row is None:
        return GrowthStanding(z=None, percentile=None, row_months=None, reason=_outside(sex))
    z = float(z_of(value, *row))
    return GrowthStanding(
        z=z, percentile=100.0 * float(norm.cdf(z)), row_months=row_of_age(months), reason=""
    )


def growth_share(
    table: pd.DataFrame | Rows,
    sex: str,
    months: tuple[int, int],
    height_cm: tuple[float, float],
    mass_kg: tuple[float, float],
) -> ShareOfGain:
    """Return how much of the change in mass between two days fits growth alone.

    `by_build` asks what the athlete would weigh now at the present height with the BMI percentile for age of
    the first day: the child stays in their own channel. `by_age` asks the same of weight for age and leaves
    height out; the two differ where height grew faster or slower than is usual. Neither is a measurement:
    the channel of one child wanders, training moves it, and the reference describes children of the United
    States surveyed from 1963 to 1994. Half a centimetre of error in height is about a third of a kilogram.
    Refused outside the ages of the table, where BMI is outside the 5th to 95th percentile, and where height
    is lower than before.
    """
    gained = mass_kg[1] - mass_kg[0]
    first, last = (_row(table, BMI, sex, at) for at in months)
    light, heavy = (_row(table, WEIGHT, sex, at) for at in months)
    if first is None or last is None or light is None or heavy is None:
        return _no_share(gained, _outside(sex))
    if height_cm[1] < height_cm[0]:
        return _no_share(gained, "height is lower than before: measure again")
    z = float(z_of(body_mass_index(mass_kg[0], height_cm[0]), *first))
    if not CHANNEL_LOW <= float(norm.cdf(z)) <= CHANNEL_HIGH:
        return _no_share(gained, "body mass index for age is outside the 5th to 95th percentile")
    by_build = float(value_of(z, *last)) * (height_cm[1] / 100.0) ** 2 - mass_kg[0]
    by_age = float(value_of(z_of(mass_kg[0], *light), *heavy)) - mass_kg[0]
    return ShareOfGain(gained=gained, by_build=by_build, by_age=by_age, beyond=gained - by_build, reason="")


def rows_of(table: pd.DataFrame) -> Rows:
    """The rows of the reference by measure, sex and age in months: for callers that look up many."""
    keys = zip(table["measure"], table["sex"], table["age_months"].astype(float), strict=True)
    values = zip(*(table[name].astype(float) for name in "LMS"), strict=True)
    result: dict[tuple[str, str, float], tuple[float, float, float]] = {}
    for key, row in zip(keys, values, strict=True):
        result.setdefault(key, row)
    return result


def _row(
    table: pd.DataFrame | Rows, measure: str, sex: str, months: int
) -> tuple[float, float, float] | None:
    """Return L, M, S of a row, None where the reference has none."""
    if months > OLDEST_MONTHS:
        return None
    rows = rows_of(table) if isinstance(table, pd.DataFrame) else table
    return rows.get((measure, sex, row_of_age(months)))


def _outside(sex: str) -> str:
    if sex not in {"male", "female"}:
        return "sex not stated: the growth reference is separate for male and female"
    return "age is outside the growth reference, 13 to 20 years"


def _no_share(gained: float, reason: str) -> ShareOfGain:
    return ShareOfGain(gained=gained, by_build=None, by_age=None, beyond=None, reason=reason)
