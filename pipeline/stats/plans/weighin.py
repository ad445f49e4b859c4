"""Body mass from weigh-ins: which of them to believe, and level and rate for every day of every stay."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.kalman import (
    Filtered,
    MassVariances,
    Weighed,
    run_filter,
    run_smoother,
    terms_of,
)
from latewood.pipeline.stats.engine.switching import Mixture, Modes, Wanted, pace_of, run_switching
from latewood.pipeline.stats.plans.massvariance import (
    USUAL_HANDOVER,
    CourseFit,
    VarianceFit,
    estimate_course,
    estimate_variances,
)
from latewood.pipeline.stats.plans.screening import screen_weighins

Floats = NDArray[np.float64]

# Stays filtered side by side; bounds the memory, longest stays together so that little is padded.
CHUNK: Final = 512

# Stays that holds are learned from: both modes cost more, and a hundred and twenty tell enough.
COURSE_STAYS: Final = 120

# The rate of a plan is the mean of the last three weeks: that of a day is lost in water and food. In worlds unlike the
# model the interval of two weeks held .88 to .93 of the true rates, that of three .93 to .95, and is narrower.
PACE_DAYS: Final = 21
# Variances are pooled and each mode is one normal: wider by this, stalled and restarted masses are held in .92 too
# (`python -m tests.bench.rate_width`; where gain comes in steps 1.2 to 1.3 would be needed).
PACE_WIDER: Final = 1.2

TREND_COLUMNS: Final = (
    "athlete_id",
    "stay_id",
    "on_date",
    "kg",
    "kg_se",
    "rate",
    "rate_se",
    "smoothed_kg",
    "smoothed_se",
    "smoothed_rate",
    "smoothed_rate_se",
    "n_weighins",
)
USE_COLUMNS: Final = ("athlete_id", "stay_id", "measured_on", "kg", "used", "reason")
_NUMBERS: Final = TREND_COLUMNS[3:11]


@dataclass(frozen=True, slots=True, kw_only=True)
class FinalStates:
    """Level, rate and water of each stay after its last used weigh-in; rows in the order of `stay_id`."""

    stay_id: tuple[str, ...]
    on_date: NDArray[np.datetime64]
    mean: Floats  # (stay, 3): level kg, rate kg a week, water kg
    cov: Floats  # (stay, 3, 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class MassFit:
    """Everything known about body mass: one row per day of stay, one per weigh-in, and the last states."""

    trend: pd.DataFrame  # columns of results.MassTrend
    use: pd.DataFrame  # columns of results.WeighinUse
    final: FinalStates
    pooled: VarianceFit
    course: CourseFit  # of a mass that moves or is held; rates and chances of plans come from it

    @property
    def variances(self) -> MassVariances:
        """The pooled variances the trend was made with."""
        return self.pooled.variances


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stays:
    """Used weigh-ins by day: one row per day weighed, stays numbered in order of stay_id."""

    stay_id: NDArray[np.object_]
    athlete_id: NDArray[np.object_]
    first_on: NDArray[np.datetime64]
    length: NDArray[np.int64]  # days from first to last weigh-in, both counted
    stay: NDArray[np.int64]  # of each weighed day
    day: NDArray[np.int64]  # since the first weigh-in
    kg: Floats  # mean of the day
    readings: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FinalModes:
    """Moving and held states of each series after its last weigh-in; stays in the order of `stay_id`."""

    stay_id: tuple[str, ...]
    on_date: NDArray[np.datetime64]
    modes: Modes
    pace: Mixture  # mean rate of the last PACE_DAYS, or since the series began, kg a week


def mass_trends(
    weighins: pd.DataFrame, variances: MassVariances | None = None, course: CourseFit | None = None
) -> MassFit:
    """Return each stay's body mass trend, which weigh-ins it rests on, and the pooled variances.

    `weighins` has athlete_id, stay_id, camp_id, measured_on and kg; fasted weigh-ins only. Rows without a
    stay are kept aside. The live columns of the trend use the weigh-ins up to that day, except that a
    weigh-in is screened against its neighbours on both sides. `variances` and `course` replace
    the estimates, as kept by an earlier build; with `variances` alone holds are taken to be as usual.
    """
    use = screen_weighins(weighins)
    stays = _by_day(use[use["used"]])
    first_kg = _first_kg(stays)
    pooled = _pool(stays, first_kg) if variances is None else _given(variances)
    held = _course(stays, first_kg, variances) if course is None else course
    order = np.argsort(-stays.length, kind="stable")
    parts = [
        _run(stays, first_kg, order[at : at + CHUNK], pooled.variances) for at in range(0, order.size, CHUNK)
    ]
    return MassFit(
        trend=_trend_frame(stays, order, [part[0] for part in parts]),
        use=use.loc[:, list(USE_COLUMNS)],
        final=_final_states(stays, order, [part[1] for part in parts]),
        pooled=pooled,
        course=held,
    )


def last_states(used: pd.DataFrame, variances: MassVariances) -> FinalStates:
    """Return the states after the last weigh-in alone, of weigh-ins already screened.

    `used` has athlete_id, stay_id, measured_on and kg, one series per stay_id.
    """
    stays = _by_day(used)
    first_kg = _first_kg(stays)
    order = np.argsort(-stays.length, kind="stable")
    chunks = [order[at : at + CHUNK] for at in range(0, order.size, CHUNK)]
    return _final_states(stays, order, [_run_forward(stays, first_kg, part, variances) for part in chunks])


def last_modes(
    used: pd.DataFrame, course: CourseFit, planned: Mapping[str, float] | None = None
) -> FinalModes:
    """Return the moving and held states after the last weigh-in alone, of weigh-ins already screened.

    `used` as in `last_states`. Before the weigh-ins a rate is taken to be what the program's stays have, or what
    is `planned` (kg a week, by stay_id), with a spread that holds both: a plan is no evidence that it is kept.
    """
    stays = _by_day(used)
    first_kg, usual = _first_kg(stays), course.variances
    own = planned or {}
    plan = np.array([own.get(str(stay), usual.start_rate) for stay in stays.stay_id], dtype=float)
    terms = terms_of(usual)._replace(
        start_rate=0.5 * (usual.start_rate + plan),
        start_rate_var=usual.start_rate_sd**2 + (plan - usual.start_rate) ** 2,
    )
    last = stays.length - 1
    days, marks = np.unique(last), np.maximum(last - PACE_DAYS, 0)
    handover = (np.asarray(course.handover.hold), np.asarray(course.handover.restart))
    kept, _ = run_switching(
        _grid(stays, np.arange(last.size)), first_kg, terms, handover, Wanted(days, marks)
    )
    weight, mean, cov = np.zeros((2, last.size)), np.zeros((4, 2, last.size)), np.zeros((4, 4, 2, last.size))
    for day, modes in zip(days, kept, strict=True):
        here = np.flatnonzero(last == day)
        weight[:, here], mean[..., here], cov[..., here] = modes.of(here)
    modes = Modes(weight, mean, cov)
    pace = pace_of(modes, np.maximum(last - marks, 1).astype(float))
    return FinalModes(
        stay_id=tuple(stays.stay_id.tolist()),
        on_date=stays.first_on + last,
        modes=modes,
        pace=pace._replace(sd=PACE_WIDER * pace.sd),
    )


def _by_day(used: pd.DataFrame) -> _Stays:
    """Return the used weigh-ins as day means; `used` is sorted by stay and date."""
    days = used.groupby(["stay_id", "measured_on"], sort=True)["kg"].agg(["mean", "size"]).reset_index()
    stay, names = pd.factorize(days["stay_id"], sort=True)
    on_date = days["measured_on"].to_numpy("datetime64[D]")
    opens = np.flatnonzero(np.diff(stay, prepend=-1))
    first_on = on_date[opens]
    day = (on_date - first_on[stay]).astype(np.int64)
    ends = np.append(opens[1:], stay.size)
    owner = used.drop_duplicates("stay_id").set_index("stay_id")["athlete_id"]
    return _Stays(
        stay_id=names.to_numpy(object),
        athlete_id=owner.reindex(names).to_numpy(object),
        first_on=first_on,
        length=day[ends - 1] + 1 if opens.size else np.zeros(0, np.int64),
        stay=stay.astype(np.int64),
        day=day,
        kg=days["mean"].to_numpy(float),
        readings=days["size"].to_numpy(np.int64),
    )


def _first_kg(stays: _Stays) -> Floats:
    """Return the day mean of each stay's first weighed day."""
    first: Floats = stays.kg[stays.day == 0]
    return first


def _pool(stays: _Stays, first_kg: Floats) -> VarianceFit:
    every = np.arange(stays.length.size)
    largest = 4 * CHUNK
    if every.size > largest:
        every = every[np.linspace(0, every.size - 1, largest).round().astype(np.int64)]
    return estimate_variances(_grid(stays, every), first_kg[every])


def _course(stays: _Stays, first_kg: Floats, variances: MassVariances | None) -> CourseFit:
    if variances is not None:
        return CourseFit(variances=variances, handover=USUAL_HANDOVER, n_stays=0)
    every = np.arange(stays.length.size)
    if every.size > COURSE_STAYS:
        every = every[np.linspace(0, every.size - 1, COURSE_STAYS).round().astype(np.int64)]
    return estimate_course(_grid(stays, every), first_kg[every])


def _given(variances: MassVariances) -> VarianceFit:
    return VarianceFit(
        variances=variances, log_likelihood=float("nan"), n_stays=0, n_weighins=0, converged=True
    )


def _grid(stays: _Stays, chosen: NDArray[np.int64]) -> Weighed:
    """Return the chosen stays on a daily grid (day, stay)."""
    column = np.full(stays.length.size, -1)
    column[chosen] = np.arange(chosen.size)
    here = column[stays.stay] >= 0
    shape = (int(stays.length[chosen].max(initial=0)), chosen.size)
    kg, readings = np.zeros(shape), np.zeros(shape, np.int64)
    at = stays.day[here], column[stays.stay[here]]
    kg[at], readings[at] = stays.kg[here], stays.readings[here]
    return Weighed(kg, readings)


def _run_forward(
    stays: _Stays, first_kg: Floats, chosen: NDArray[np.int64], variances: MassVariances
) -> tuple[Floats, Floats]:
    """Return the final means and covariances of the chosen stays."""
    filtered = run_filter(_grid(stays, chosen), first_kg[chosen], terms_of(variances))
    return _at_end(stays, chosen, filtered)


def _at_end(stays: _Stays, chosen: NDArray[np.int64], filtered: Filtered) -> tuple[Floats, Floats]:
    last, column = stays.length[chosen] - 1, np.arange(chosen.size)
    return filtered.after[last, :, column], filtered.after_cov[last, :, :, column]


def _run(
    stays: _Stays, first_kg: Floats, chosen: NDArray[np.int64], variances: MassVariances
) -> tuple[Floats, tuple[Floats, Floats]]:
    """Return the trend numbers (day of stay, 9) stay after stay, and the final means and covariances."""
    weighed, terms = _grid(stays, chosen), terms_of(variances)
    filtered = run_filter(weighed, first_kg[chosen], terms)
    smoothed = run_smoother(filtered, terms)
    inside = np.arange(weighed.kg.shape[0])[None] < stays.length[chosen][:, None]
    pieces = [*_pairs(filtered.after, filtered.after_cov), *_pairs(smoothed.mean, smoothed.cov)]
    pieces.append(np.cumsum(weighed.readings, axis=0).astype(float))
    numbers = np.stack([piece.T[inside] for piece in pieces], axis=1)
    return numbers, _at_end(stays, chosen, filtered)


def _pairs(mean: Floats, cov: Floats) -> list[Floats]:
    """Return level, its standard error, rate and its standard error, each (day, stay)."""
    return [mean[:, 0], np.sqrt(cov[:, 0, 0]), mean[:, 1], np.sqrt(cov[:, 1, 1])]


def _trend_frame(stays: _Stays, order: NDArray[np.int64], parts: list[Floats]) -> pd.DataFrame:
    """Return the daily rows, sorted by stay and date; `parts` follow `order`."""
    numbers = np.concatenate(parts) if parts else np.empty((0, 9))
    lengths = stays.length[order]
    row_stay = np.repeat(order, lengths)
    day = np.arange(row_stay.size) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    sorting = np.argsort(row_stay, kind="stable")
    row_stay, day, numbers = row_stay[sorting], day[sorting], numbers[sorting]
    columns: dict[str, object] = {
        "athlete_id": stays.athlete_id[row_stay],
        "stay_id": stays.stay_id[row_stay],
        "on_date": (stays.first_on[row_stay] + day).astype("datetime64[s]"),
    }
    columns |= {name: numbers[:, at] for at, name in enumerate(_NUMBERS)}
    columns["n_weighins"] = numbers[:, -1].astype(np.int64)
    return pd.DataFrame(columns, columns=list(TREND_COLUMNS))


def _final_states(stays: _Stays, order: NDArray[np.int64], parts: list[tuple[Floats, Floats]]) -> FinalStates:
    back = np.argsort(order, kind="stable")
    mean = np.concatenate([part[0] for part in parts]) if parts else np.empty((0, 3))
    cov = np.concatenate([part[1] for part in parts]) if parts else np.empty((0, 3, 3))
    return FinalStates(
        stay_id=tuple(stays.stay_id.tolist()),
        on_date=stays.first_on + (stays.length - 1),
        mean=mean[back],
        cov=cov[back],
    )
