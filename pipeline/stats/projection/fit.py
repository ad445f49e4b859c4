"""Which form of time foretells finished stays best, and how sure its forecasts turned out to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.later import stats
from latewood.pipeline.stats.engine.mixed import MixedFit
from latewood.pipeline.stats.engine.mixed_integrated import IntegratedFit, fit_many_for_size
from latewood.pipeline.stats.engine.mixed_sums import GroupSums, group_sums
from latewood.pipeline.stats.links.link_design import FORMS, Floats, every_kth, independent, time_columns

LAST_VALUE = "last value"
LEVEL = 0.95
FOLDS = 4
FEWEST_SESSIONS = 3
FEWEST_FINISHED = 8  # finished stays with something held out, below which no form is preferred
NO_SPREAD = 1e-9  # SD of a forecast that is told from none
FEWEST_SCORES = 40  # held-out values, below which their spread says nothing about the interval


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedForm:
    """A mixed model of one line in one form of time; `kept` are the fixed columns the data could tell."""

    form: str
    kept: NDArray[np.bool_]
    fit: MixedFit | IntegratedFit

    def predict(
        self, stays: Sequence[Any], weeks: Floats, *, new_session: bool = True
    ) -> tuple[Floats, Floats]:
        """Mean and SD (k,) of a session of k stays at so many weeks, not an intake day."""
        x, z = _columns(self.form, weeks, np.zeros(len(weeks)))
        mean, variance = self.fit.predict_many(list(stays), x[:, self.kept], z, new_session=new_session)
        return mean, np.sqrt(variance)


@dataclass(frozen=True, slots=True, kw_only=True)
class FormChoice:
    """The form that foretold best, the factor its SD needs, and the SD of 'last value' forecasts.

    `n_scores` held-out values were foretold; `scores` is the mean CRPS of each form, empty without them.
    """

    form: str
    widen: float
    last_sd: float | None
    n_scores: int
    scores: dict[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineChoice:
    """What a `FormChoice` says of one line, without the scores: all that projecting needs, in plain fields."""

    measure: str
    line: str
    form: str
    widen: float
    last_sd: float | None
    n_scores: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldOut:
    """Later sessions of finished stays, foretold from the earlier ones: means and SDs by form, all (k,)."""

    stay: NDArray[Any]
    value: Floats
    forecasts: dict[str, tuple[Floats, Floats]]


def gaussian_crps(value: Floats, mean: Floats, sd: Floats) -> Floats:
    """The continuous ranked probability score of normal forecasts, in the unit of the value; small is good.

    Gneiting & Raftery 2007, J Am Stat Assoc 102:359, equation 21 with the sign turned.

    All (n,), in one unit; the result (n,).

    >>> float(gaussian_crps(np.array([0.0]), np.array([0.0]), np.array([1.0]))[0].round(4))
    0.2337

    A forecast without spread (sessions that fit a course exactly) scores its distance:

    >>> float(gaussian_crps(np.array([3.0]), np.array([1.0]), np.array([0.0]))[0].round(4))
    2.0
    """
    sd = np.maximum(sd, NO_SPREAD)
    z = (value - mean) / sd
    density = np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi)
    return np.asarray(sd * (z * (2.0 * stats.norm.cdf(z) - 1.0) + 2.0 * density - 1.0 / np.sqrt(np.pi)))


def fit_course(sessions: pd.DataFrame, form: str) -> FittedForm | None:
    """The model of one line; None where there are too few sessions to fit it. See `session_lines`.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    return fit_courses([(sessions, form)])[0]


def fit_courses(asked: Sequence[tuple[pd.DataFrame, str]]) -> list[FittedForm | None]:
    """`fit_course` of several, whose optima are searched together.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    made = [_course_sums(sessions, form) for sessions, form in asked]
    fits = iter(fit_many_for_size([one[1] for one in made if one is not None]))
    return [
        None if one is None else FittedForm(form=form, kept=one[0], fit=next(fits))
        for one, (_, form) in zip(made, asked, strict=True)
    ]


def _course_sums(sessions: pd.DataFrame, form: str) -> tuple[NDArray[np.bool_], GroupSums] | None:
    x, z = _columns(form, sessions["t"].to_numpy(dtype=float), sessions["first"].to_numpy(dtype=float))
    kept = independent(x)
    if not kept[1 : x.shape[1] - 1].all():
        return None
    sums = group_sums(
        sessions["stay_id"].to_numpy(dtype=object), sessions["value"].to_numpy(dtype=float), x[:, kept], z
    )
    return kept, sums


def choose_course(sessions: pd.DataFrame, finished: set[str]) -> FormChoice:
    """The form of time to project with, from how well each foretold the later half of finished stays.

    A large program is represented by every k-th stay.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    held = hold_out(sessions.loc[every_kth(sessions["stay_id"].to_numpy(dtype=object))], finished)
    if held is None:
        return FormChoice(form=FORMS[0], widen=1.0, last_sd=None, n_scores=0, scores={})
    codes = pd.factorize(held.stay)[0]
    weight = 1.0 / np.bincount(codes)[codes]  # each stay counts once, however long it was
    scores = {
        form: float(np.average(gaussian_crps(held.value, mean, sd), weights=weight))
        for form, (mean, sd) in held.forecasts.items()
    }
    form = min(scores, key=lambda f: scores[f])
    mean, sd = held.forecasts[form]
    last_mean, _ = held.forecasts[LAST_VALUE]
    return FormChoice(
        form=form,
        widen=_widening(np.abs(held.value - mean) / np.maximum(sd, NO_SPREAD)),
        last_sd=float(np.sqrt(np.mean((held.value - last_mean) ** 2))),
        n_scores=len(held.value),
        scores=scores,
    )


def hold_out(sessions: pd.DataFrame, finished: set[str]) -> HeldOut | None:
    """Forecasts of the later half of each finished stay from its first half and from all other stays.

    Stays are dealt into folds in order of their id; of the fold's stays only the first half, at least three
    sessions, is seen. None where fewer than `FEWEST_FINISHED` stays have something to hold out.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    order = sessions.groupby("stay_id", sort=False).cumcount().to_numpy()
    count = sessions.groupby("stay_id", sort=False)["value"].transform("size").to_numpy()
    late = (order >= np.maximum(FEWEST_SESSIONS, (count + 1) // 2)) & sessions["stay_id"].isin(finished)
    names = np.unique(sessions.loc[late, "stay_id"].to_numpy(dtype=object).astype(str))
    if len(names) < FEWEST_FINISHED:
        return None
    number = pd.Index(names).get_indexer(sessions["stay_id"])
    folds = [(late & (number % FOLDS == fold)).to_numpy() for fold in range(FOLDS)]
    observed = [sessions.loc[~hidden] for hidden in folds]
    courses = fit_courses([(part, form) for part in observed for form in FORMS])
    parts = [
        _forecasts(part, sessions.loc[hidden], courses[k * len(FORMS) : (k + 1) * len(FORMS)])
        for k, (part, hidden) in enumerate(zip(observed, folds, strict=True))
    ]
    full = pd.concat(parts, ignore_index=True)
    forms = [f for f in FORMS if full[f"{f} mean"].notna().all()]
    forecasts = {f: (full[f"{f} mean"].to_numpy(), full[f"{f} sd"].to_numpy()) for f in forms}
    forecasts[LAST_VALUE] = (full[f"{LAST_VALUE} mean"].to_numpy(), _last_spread(full))
    return HeldOut(
        stay=full["stay"].to_numpy(dtype=object), value=full["value"].to_numpy(), forecasts=forecasts
    )


def _forecasts(
    seen: pd.DataFrame, hidden: pd.DataFrame, courses: Sequence[FittedForm | None]
) -> pd.DataFrame:
    """Mean and SD of each form for the hidden sessions; NaN for a form that could not be fitted."""
    stays, weeks = hidden["stay_id"].to_numpy(dtype=object), hidden["t"].to_numpy(dtype=float)
    table = pd.DataFrame({"stay": stays, "value": hidden["value"].to_numpy(dtype=float)})
    for form, course in zip(FORMS, courses, strict=True):
        missing = np.full(len(stays), np.nan)
        table[f"{form} mean"], table[f"{form} sd"] = (
            (missing, missing) if course is None else course.predict(list(stays), weeks)
        )
    last = seen.groupby("stay_id")["value"].last()
    table[f"{LAST_VALUE} mean"] = last.reindex(stays).to_numpy()
    return table


def _last_spread(whole: pd.DataFrame) -> Floats:
    """SD of a 'last value' forecast of each row: the root mean square error of the other stays."""
    square = (whole["value"] - whole[f"{LAST_VALUE} mean"]) ** 2
    own = square.groupby(whole["stay"])
    others = (square.sum() - own.transform("sum")) / (len(square) - own.transform("size"))
    return np.asarray(np.sqrt(others.to_numpy(dtype=float)))


def _widening(deviates: Floats) -> float:
    """The factor that makes `LEVEL` of the held-out |z| fall inside, never below one."""
    n = len(deviates)
    if n < FEWEST_SCORES:
        return 1.0
    rank = min(n, int(np.ceil((n + 1) * LEVEL)))
    return max(1.0, float(np.sort(deviates)[rank - 1]) / float(stats.norm.ppf(0.5 + LEVEL / 2)))


def _columns(form: str, weeks: Floats, intake: Floats) -> tuple[Floats, Floats]:
    """Fixed (N, 3 or 4) and random (N, 2) columns; the intake mark is the last fixed one."""
    time, ones = time_columns(form, weeks), np.ones((len(weeks), 1))
    return np.hstack([ones, time, intake[:, None]]), np.hstack([ones, time[:, :1]])
