"""Whether a weight plan may be made: age, growth peak, ceiling by age, and when a written reason is needed.

Ceiling: 0.25-0.5 % of body mass a week is advised for novice and intermediate lifters (Iraki et al. 2019, Sports
7(7):154; adults). No published weekly ceiling for athletes under 18 was found; the adult range is used as a limit
for them that nobody may pass, and for adults as one that needs a written reason. Gates at 14 years and at the
growth peak: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.catalogue import handles
from latewood.pipeline.stats.growth.maturity import BEFORE, OLDEST, BodySize, maturity_band
from latewood.pipeline.stats.growth.results import GrowthStage
from latewood.pipeline.stats.plans.ages import ADULT
from latewood.pipeline.stats.plans.rules import PlanSettings

PHYSICIAN_UNTIL: Final = 16.0  # below, a physician or dietitian approves besides the guardian
NEAR_CEILING: Final = 0.9  # share of the ceiling from which a written reason is needed


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedGain:
    """From where to where in how many weeks.

    `trend_kg` is the trend of the weigh-ins on the start day: where it is known the rate is reckoned from it and not
    from the typed start, since one typed too high would let a steep gain pass as a gentle one.
    """

    start_kg: float
    target_kg: float
    weeks: float
    trend_kg: float | None = None

    @property
    def percent(self) -> float:
        """Of the mass at the start per week; NaN where the plan has no length."""
        begins = self.start_kg if self.trend_kg is None else self.trend_kg
        return 100.0 * (self.target_kg - begins) / begins / self.weeks if self.weeks > 0 else float("nan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Permission:
    """What stands against a plan. `refused` is '' where it may be saved; `reason_for` why a reason is needed."""

    percent: float  # of the trend mass at the start per week; of the typed start where there is no trend
    ceiling_percent: float
    refused: str
    reason_for: str


def permission(
    gain: PlannedGain, *, age: float | None, stage: str = "", settings: PlanSettings | None = None
) -> Permission:
    """Return whether a plan of this gain may be made for an athlete of this age (years) and growth stage.

    >>> permission(PlannedGain(start_kg=73.4, target_kg=75.5, weeks=3), age=17.0).refused
    'needs 0.95 % of body mass a week, above the ceiling of 0.5 %'
    """
    rules = settings or PlanSettings()
    percent = gain.percent
    refused = age_refusal(age, stage, rules) or _rate_refusal(percent, gain.weeks, age, rules)
    return Permission(
        percent=percent,
        ceiling_percent=rules.ceiling_percent,
        refused=refused,
        reason_for="" if refused else _reason_for(percent, rules),
    )


def age_refusal(age: float | None, stage: str, rules: PlanSettings) -> str:
    """Return why no plan may be made for this athlete at all, '' where one may."""
    if age is None:
        return "birth date not stated, so the youngest age for a plan cannot be checked"
    if age < rules.youngest:
        return f"younger than {rules.youngest:g}: growth only, no plan"
    return "before the growth peak: growth only, no plan" if stage == BEFORE else ""


def _rate_refusal(percent: float, weeks: float, age: float | None, rules: PlanSettings) -> str:
    if weeks <= 0:
        return "the target date is not after the start"
    if percent < 0:
        return "the target lies below the start: losing mass is a question for a physician or dietitian"
    is_adult = age is not None and age >= ADULT
    limit = rules.refer_percent if is_adult else rules.ceiling_percent
    if percent <= limit + 1e-9:
        return ""
    name = "limit at which a gain is referred" if is_adult else "ceiling"
    return f"needs {percent:.2f} % of body mass a week, above the {name} of {limit:g} %"


def _reason_for(percent: float, rules: PlanSettings) -> str:
    if percent > rules.ceiling_percent + 1e-9:
        return f"{percent:.2f} % of body mass a week is beyond the published ceiling of {rules.ceiling_percent:g} %"
    if percent > NEAR_CEILING * rules.ceiling_percent:
        return f"{percent:.2f} % of body mass a week is at the ceiling of {rules.ceiling_percent:g} %"
    return ""


def barred_plans(
    frame: pd.DataFrame,
    people: pd.DataFrame,
    stages: Mapping[str, str],
    settings: PlanSettings,
    begins: NDArray[np.float64],
) -> NDArray[np.object_]:
    """Return why each plan is not allowed, '' where it is.

    `frame` has athlete_id, start_on, target_on, target_kg and, where reasons are kept, reason; `begins` the mass at
    each start from which the rate is reckoned, kg; `stages` the growth stage by athlete. A rate beyond the ceiling
    that an adult may plan with a reason is barred without one.
    `begins` and the result (plans,), in order of the rows of `frame`.
    """
    born = pd.to_datetime(frame["athlete_id"].map(people.set_index("athlete_id")["birth_date"]))
    age = whole_years(born, frame["start_on"])
    weeks = (frame["target_on"] - frame["start_on"]).dt.days / 7.0
    reasons = frame["reason"] if "reason" in frame else pd.Series("", index=frame.index)
    text = reasons.fillna("").astype(str).str.strip()
    columns = zip(begins, frame["target_kg"], weeks, age, frame["athlete_id"].astype(str), text, strict=True)
    words = [
        _barred(
            permission(
                PlannedGain(start_kg=float(start), target_kg=float(target), weeks=float(length)),
                age=None if np.isnan(years) else float(years),
                stage=stages.get(athlete, ""),
                settings=settings,
            ),
            reason,
        )
        for start, target, length, years, athlete, reason in columns
    ]
    return np.array(words, dtype=object)


def _barred(found: Permission, reason: str) -> str:
    beyond = found.percent > found.ceiling_percent + 1e-9
    return found.refused or (f"{found.reason_for}, and no reason is written" if beyond and not reason else "")


def whole_years(born: pd.Series[pd.Timestamp], on: pd.Series[pd.Timestamp]) -> pd.Series[float]:
    """Return completed years of age, NaN without a birth date."""
    before = (on.dt.month < born.dt.month) | ((on.dt.month == born.dt.month) & (on.dt.day < born.dt.day))
    return on.dt.year - born.dt.year - before.astype(float)


def growth_stages(people: pd.DataFrame, sessions: pd.DataFrame) -> tuple[GrowthStage, ...]:
    """Return the growth stage of every athlete at their latest standing height, where an equation holds.

    `people` has athlete_id, birth_date and sex; `sessions` athlete_id, measure, held_on and value.
    """
    wanted = (handles.STANDING_HEIGHT, handles.SITTING_HEIGHT, handles.BODY_MASS)
    rows = sessions[sessions["measure"].isin(wanted)].sort_values("held_on", kind="stable")
    rows = rows.drop_duplicates(["athlete_id", "measure"], keep="last")
    latest = {
        (str(athlete), str(measure)): (pd.Timestamp(day).date(), float(value))
        for athlete, measure, day, value in zip(
            rows["athlete_id"], rows["measure"], rows["held_on"], rows["value"], strict=True
        )
    }
    result = []
    for athlete, born, sex in zip(people["athlete_id"], people["birth_date"], people["sex"], strict=True):
        height = latest.get((str(athlete), handles.STANDING_HEIGHT))
        if height is None or pd.isna(born):
            continue
        age = (height[0] - pd.Timestamp(born).date()).days / 365.25
        if age > OLDEST:
            continue
        sitting, mass = (latest.get((str(athlete), measure)) for measure in wanted[1:])
        band = maturity_band(
            sex="" if pd.isna(sex) else str(sex),
            age=age,
            size=BodySize(
                height_cm=height[1],
                sitting_cm=sitting[1] if sitting else None,
                mass_kg=mass[1] if mass else None,
            ),
        )
        result.append(
            GrowthStage(
                athlete_id=str(athlete),
                as_of=height[0],
                stage=band.stage,
                method=band.method,
                reason=band.reason,
            )
        )
    return tuple(result)
