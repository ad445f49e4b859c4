"""Years from the peak of growth in height, as a band and never as a date."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from latewood.pipeline.stats.engine.normal import norm

MALE: Final = "male"
FEMALE: Final = "female"

# Ages of the sample behind the equations (Mirwald et al. 2002); outside them nothing is given.
YOUNGEST: Final = 8.0
OLDEST: Final = 16.0

# Standard errors of estimate printed with the Mirwald equations, years.
MIRWALD_ERROR: Final = {MALE: 0.59, FEMALE: 0.57}

# Kozieł & Malina 2018, Sports Med 48:221-236: fair only within a year of the peak, and off by about a year
# in early and late maturers; no band may be narrower.
NARROWEST: Final = 1.0

BEFORE: Final = "before the growth peak"
AROUND: Final = "around the growth peak"
AFTER: Final = "after the growth peak"
UNCERTAIN: Final = "uncertain"


@dataclass(frozen=True, slots=True, kw_only=True)
class BodySize:
    """Standing height and, where they were measured, sitting height and body mass."""

    height_cm: float
    sitting_cm: float | None
    mass_kg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MaturityBand:
    """Years from the growth peak, negative before it; None with a reason where no equation holds."""

    offset: float | None
    low: float | None
    high: float | None
    stage: str  # before | around | after the growth peak | uncertain
    level: float
    method: str
    reason: str


def mirwald_boys(age: float, height: float, sitting: float, mass: float) -> float:
    """Return years from the growth peak. Years, cm, kg.

    Mirwald RL et al. 2002, Med Sci Sports Exerc 34:689-694. Mass over height counts a hundredfold.
    """
    leg = height - sitting
    return (
        -9.236
        + 0.0002708 * leg * sitting
        - 0.001663 * age * leg
        + 0.007216 * age * sitting
        + 0.02292 * 100.0 * mass / height
    )


def mirwald_girls(age: float, height: float, sitting: float, mass: float) -> float:
    """Return years from the growth peak. Years, cm, kg.

    Mirwald RL et al. 2002, Med Sci Sports Exerc 34:689-694. Mass over height counts a hundredfold.
    """
    leg = height - sitting
    return (
        -9.376
        + 0.0001882 * leg * sitting
        + 0.0022 * age * leg
        + 0.005841 * age * sitting
        - 0.002658 * age * mass
        + 0.07693 * 100.0 * mass / height
    )


def moore_boys_sitting(age: float, sitting: float) -> float:
    """Return years from the growth peak of a boy, with sitting height (cm).

    Moore SA et al. 2015, Med Sci Sports Exerc 47:1755-1764.
    """
    return -8.128741 + 0.0070346 * age * sitting


def moore_boys(age: float, height: float) -> float:
    """Return years from the growth peak of a boy, without sitting height.

    Moore SA et al. 2015, Med Sci Sports Exerc 47:1755-1764.
    """
    return -7.999994 + 0.0036124 * age * height


def moore_girls(age: float, height: float) -> float:
    """Return years from the growth peak of a girl.

    Moore SA et al. 2015, Med Sci Sports Exerc 47:1755-1764.
    """
    return -7.709133 + 0.0042232 * age * height


def maturity_band(*, sex: str, age: float, size: BodySize, level: float = 0.90) -> MaturityBand:
    """Return the offset from the growth peak as a band of at least a year each way, and its stage.

    With sitting height and mass by Mirwald, else by Moore from height alone. The stage is uncertain where
    both equations can be worked out and put the athlete in different stages.
    """
    reason = _refusal(sex, age)
    if reason:
        return MaturityBand(
            offset=None, low=None, high=None, stage=UNCERTAIN, level=level, method="none", reason=reason
        )
    moore = moore_boys(age, size.height_cm) if sex == MALE else moore_girls(age, size.height_cm)
    offset, error, method, stage = moore, 0.0, "Moore 2015, from height", stage_of(moore)
    if size.sitting_cm is not None and size.mass_kg is not None:
        equation = mirwald_boys if sex == MALE else mirwald_girls
        offset = equation(age, size.height_cm, size.sitting_cm, size.mass_kg)
        error, method = MIRWALD_ERROR[sex], "Mirwald 2002, from sitting height and mass"
        stage = stage if stage_of(offset) == stage else UNCERTAIN
    half = max(NARROWEST, float(norm.ppf(0.5 + level / 2.0)) * error)
    return MaturityBand(
        offset=offset,
        low=offset - half,
        high=offset + half,
        stage=stage,
        level=level,
        method=method,
        reason="",
    )


def stage_of(offset: float) -> str:
    """Return the stage an offset falls in: around the peak means within a year of it."""
    if offset < -1.0:
        return BEFORE
    return AFTER if offset > 1.0 else AROUND


def _refusal(sex: str, age: float) -> str:
    if sex not in {MALE, FEMALE}:
        return "sex not stated: the equations differ for male and female"
    if not YOUNGEST <= age <= OLDEST:
        return f"the equations hold from {YOUNGEST:g} to {OLDEST:g} years only"
    return ""
