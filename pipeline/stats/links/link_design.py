"""The rows and columns a mass link is estimated from: output, body mass and strength on one session's day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.stats.engine.few_clusters import GroupError, group_error
from latewood.pipeline.stats.engine.mixed import MixedFit, coefficients_at
from latewood.pipeline.stats.engine.mixed_sums import group_sums
from latewood.pipeline.stats.engine.session_lines import bridge_columns
from latewood.pipeline.stats.links.own_line_design import bends, lines_beside, own_lines

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LINKED_FAMILIES = ("skill_output", "speed", "jump_power", "strength")
FORMS = ("log", "linear", "quadratic")
LOG_WEEKS = 3.0  # weeks in which the first unit of log time passes
LINEAR_WEEKS = 10.0  # keeps the columns of the other forms near one
MASS_GAP_DAYS = 10  # a session further than this from any day of the mass trend has no mass
STRENGTH_GAP_DAYS = 28
FORM_STAYS = 500  # stays enough to tell which form of time fits
LEFT_OF_MASS = 1e-9  # share of own mass off every line below which nothing is left but rounding
SAME = 1e-9  # of the values themselves, below which they are off their lines by rounding only
COPIED = "values run exactly along lines, as no measurement does: check whether they were copied"
DEPENDENT = 1e-7  # a column whose part not shared with earlier ones is smaller than this is dropped


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkRows:
    """Sessions of one line with the mass of that day; arrays have one entry per session (N,)."""

    athlete: NDArray[Any]
    stay: NDArray[Any]
    camp: NDArray[Any]
    value: Floats
    weeks: Floats
    intake: Floats
    age: Floats  # at arrival, years
    mass: Floats  # kg
    mass_se: Floats
    strength: Floats  # kg; NaN where no strength test is near
    offset_error: Floats  # (N, b) of each bridge, see session_lines.bridge_columns

    def only(self, keep: NDArray[np.bool_]) -> LinkRows:
        """The rows where `keep` (N,) is true."""
        return LinkRows(**{name: getattr(self, name)[keep] for name in self.__dataclass_fields__})

    @property
    def n_informative(self) -> int:
        """Athletes with a stay of at least two sessions: those that carry a within-athlete slope."""
        return len(np.unique(self.athlete[group_counts(self.stay) >= 2]))

    @property
    def n_with_lines(self) -> int:
        """Athletes with a stay of at least three sessions: fewer lie on their own line whatever mass did."""
        return len(np.unique(self.athlete[group_counts(self.stay) >= 3]))


def day_numbers(dates: pd.Series) -> Ints:
    """Days since 1970 (N,) of dates in any form pandas reads."""
    return pd.to_datetime(dates).to_numpy().astype("datetime64[D]").astype(np.int64)


def group_counts(labels: NDArray[Any]) -> Ints:
    """How often each row's own label occurs, (N,)."""
    codes = pd.factorize(labels)[0]
    return np.bincount(codes)[codes].astype(np.int64)


def copied(rows: LinkRows) -> bool:
    """Whether outputs are the same all through, or run exactly along lines, in every stay of three sessions or more."""
    several = rows.only(group_counts(rows.stay) >= 3)
    if not len(several.value):
        return False
    off = own_lines(several.stay, several.weeks).off(several.value[:, None])
    return bool(np.abs(off).max() <= SAME * np.abs(several.value).max())


def group_means(labels: NDArray[Any], values: Floats) -> Floats:
    """The mean of each row's own group, (N,)."""
    codes = pd.factorize(labels)[0]
    return np.asarray((np.bincount(codes, values) / np.bincount(codes))[codes])


def group_first(labels: NDArray[Any], values: Floats) -> Floats:
    """The first value of each row's own group, in row order, (N,)."""
    codes, names = pd.factorize(labels)
    first = np.full(len(names), len(codes), dtype=np.int64)
    np.minimum.at(first, codes, np.arange(len(codes)))
    return np.asarray(values[first[codes]])


def every_kth(labels: NDArray[Any]) -> NDArray[np.bool_]:
    """Rows (N,) of at most `FORM_STAYS` stays, spread evenly over the sorted labels."""
    codes, names = pd.factorize(labels, sort=True)
    return np.asarray(codes % (1 + (len(names) - 1) // FORM_STAYS) == 0)


def time_columns(form: str, weeks: Floats) -> Floats:
    """Columns of the time form, (N, 1) or (N, 2); the first also carries the random slope.

    >>> time_columns("log", np.array([0.0, 3.0])).round(3).tolist()
    [[0.0], [0.693]]
    """
    since = np.maximum(weeks, 0.0)
    if form == "log":
        return np.log1p(since / LOG_WEEKS)[:, None]
    scaled = since / LINEAR_WEEKS
    return scaled[:, None] if form == "linear" else np.column_stack([scaled, scaled**2])


def carry(
    known: pd.DataFrame, at: pd.DataFrame, columns: tuple[str, ...], *, day: str, within_days: int
) -> Floats:
    """Values of `columns` of `known` at the stay and day of each row of `at`: (N, c) for c columns.

    Between two days of the same stay a straight line; outside them the nearest day; NaN where the nearest
    day is further than `within_days`. `known` has stay_id and the date column `day`, `at` has held_on.
    """
    if known.empty or at.empty:
        return np.full((len(at), len(columns)), np.nan)
    stays = pd.Index(known["stay_id"].unique())
    when, wanted = day_numbers(known[day]), day_numbers(at["held_on"])
    first = min(int(when.min()), int(wanted.min()))
    span = max(int(when.max()), int(wanted.max())) - first + 1  # one block of days per stay
    codes = stays.get_indexer(at["stay_id"])
    target = codes * span + (wanted - first)
    keys = stays.get_indexer(known["stay_id"]) * span + (when - first)
    order = np.argsort(keys, kind="stable")
    keys, table = keys[order], known[list(columns)].to_numpy(dtype=float)[order]
    after = np.minimum(np.searchsorted(keys, target), len(keys) - 1)
    before = np.maximum(np.searchsorted(keys, target, side="right") - 1, 0)
    ahead, behind = (keys[after] - target).astype(float), (target - keys[before]).astype(float)
    ahead[(keys[after] // span != codes) | (ahead < 0)] = np.inf
    behind[(keys[before] // span != codes) | (behind < 0)] = np.inf
    both = np.isfinite(ahead) & np.isfinite(behind) & (ahead + behind > 0)
    share = np.where(np.isfinite(behind), 0.0, 1.0)
    share[both] = behind[both] / (ahead + behind)[both]
    value = table[before] * (1.0 - share)[:, None] + table[after] * share[:, None]
    value[np.minimum(ahead, behind) > within_days] = np.nan
    return np.asarray(value)


def link_rows(
    sessions: pd.DataFrame,
    mass_trend: pd.DataFrame,
    people: pd.DataFrame,
    strength: pd.DataFrame,
    *,
    mass_needed: bool = True,
) -> LinkRows:
    """The sessions of one line that have a body mass, with all that is needed.

    `sessions` and `strength` are comparable sessions (session_lines) of one line each. Where mass is not
    `mass_needed`, sessions without one stay in and have NaN.
    """
    rows = sessions.sort_values(["stay_id", "day"], kind="stable", ignore_index=True)
    mass = carry(mass_trend, rows, ("smoothed_kg", "smoothed_se"), day="on_date", within_days=MASS_GAP_DAYS)
    lifted = carry(strength, rows, ("value",), day="held_on", within_days=STRENGTH_GAP_DAYS)
    weeks = rows["t"].to_numpy(dtype=float)
    made = LinkRows(
        athlete=rows["athlete_id"].to_numpy(dtype=object),
        stay=rows["stay_id"].to_numpy(dtype=object),
        camp=rows["camp_id"].to_numpy(dtype=object),
        value=rows["value"].to_numpy(dtype=float),
        weeks=weeks,
        intake=rows["first"].to_numpy(dtype=float),
        age=_age_at_arrival(rows, people, weeks),
        mass=mass[:, 0],
        mass_se=mass[:, 1],
        strength=lifted[:, 0],
        offset_error=bridge_columns(rows["own_line"], rows["shift_se"]),
    )
    return made.only(np.isfinite(made.mass)) if mass_needed else made


def _age_at_arrival(rows: pd.DataFrame, people: pd.DataFrame, weeks: Floats) -> Floats:
    """Years at arrival; where no birth date is known, the mean of the others (it only separates athletes)."""
    born = pd.to_datetime(people.set_index("athlete_id")["birth_date"]).reindex(rows["athlete_id"])
    held = pd.to_datetime(rows["held_on"]).to_numpy()
    days = (held - born.to_numpy()) / np.timedelta64(1, "D")
    age = (days - 7.0 * weeks) / 365.25
    observed = np.isfinite(age)
    return np.where(observed, age, age[observed].mean() if observed.any() else 0.0)


def independent(columns: Floats) -> NDArray[np.bool_]:
    """Which columns (p,) of (N, p) are not a combination of those before them."""
    if columns.shape[0] <= columns.shape[1]:
        return np.zeros(columns.shape[1], dtype=bool)
    size = np.linalg.norm(columns, axis=0)
    diagonal = np.abs(np.diag(np.linalg.qr(columns / np.where(size > 0, size, 1.0), mode="r")))
    return np.asarray((diagonal > DEPENDENT) & (size > 0))


def fixed_columns(rows: LinkRows, others: Floats) -> Floats:
    """All fixed effects (N, p); own added mass is the last, starting mass the one before.

    Constant, `others` (time first), intake, age, camps, what keeps the slope off own lines (see
    `own_line_columns`; none without `others`), mean gain, starting mass, own added mass.

    Own added mass is off the first session of the stay. Its mean over the stay stands beside it, so that the
    slope rests on changes within athletes only: without it, athletes who gain more and are better (or worse)
    anyway would lend the slope their difference.
    A column may depend on those before it (one camp only, no intake seen): see `independent`.
    """
    camp = rows.camp.astype(str)
    start = group_first(rows.stay, rows.mass)
    gained = rows.mass - start
    usual = group_means(rows.stay, gained)
    parts = [
        np.ones((len(rows.value), 1)),
        others,
        rows.intake[:, None],
        (rows.age - rows.age.mean())[:, None],
        (camp[:, None] == np.unique(camp)[None, 1:]).astype(float),
        own_line_columns(rows, others, gained),
        (usual - usual.mean())[:, None],
        (start - start.mean())[:, None],
        gained[:, None],
    ]
    return np.concatenate(parts, axis=1)


def columns_without_mass(rows: LinkRows, others: Floats) -> Floats:
    """The fixed effects (N, p) where mass has no term: constant, `others` (N, k), intake, age, camps, starting mass."""
    camp = rows.camp.astype(str)
    start = group_first(rows.stay, rows.mass)
    first, rest = np.ones((len(rows.value), 1)), rows.intake[:, None]
    parts = [
        first,
        others,
        rest,
        (rows.age - rows.age.mean())[:, None],
        (camp[:, None] == np.unique(camp)[None, 1:]).astype(float),
        (start - start.mean())[:, None],
    ]
    return np.concatenate(parts, axis=1)


def own_line_columns(rows: LinkRows, others: Floats, gained: Floats) -> Floats:
    """Columns (N, k) beside which `gained` (N,) keeps only what is off each stay's own line on the first of `others`.

    None without `others`, or without rows: then there is no line to be off.
    """
    if not others.shape[1] or not len(rows.value):
        return np.empty((len(rows.value), 0))
    time = others[:, 0]
    lines = own_lines(rows.stay, time)
    moving = np.column_stack([others[:, 1:], rows.intake, gained])
    return np.column_stack([lines_beside(lines, time, moving), bends(lines, gained, every_form(rows.weeks))])


def every_form(weeks: Floats) -> Floats:
    """The columns of all forms of time, (N, 3)."""
    return np.column_stack([time_columns("log", weeks), time_columns("quadratic", weeks)])


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnMass:
    """What is left of own mass off the athletes' own lines: the design a link rests on, whatever the outputs were."""

    left: float  # kg2, sum of squares
    inflation: float  # the sum of squares within stays over `left`; infinite where nothing is left
    usual_gain: float  # kg, median over stays of three sessions or more, either way
    degrees: float  # of the slope's t (Satterthwaite); 0 where nothing is left


def own_mass(rows: LinkRows, others: Floats) -> OwnMass:
    """What own mass did off the own lines, off `others` (N, k; time first) and off the bends of time."""
    columns = columns_off_lines(rows, others)
    held, off = columns[:, :-1], columns[:, -1]
    rest = off - held @ np.linalg.lstsq(held, off, rcond=None)[0]
    within = rows.mass - group_means(rows.stay, rows.mass)
    whole, left = float(within @ within), float(rest @ rest)
    known = left > LEFT_OF_MASS * whole
    return OwnMass(
        left=left,
        inflation=whole / left if known else float("inf"),
        usual_gain=_usual_gain(rows),
        degrees=_error_off_lines(rows, columns, np.zeros(len(off))).degrees if known else 0.0,
    )


def columns_off_lines(rows: LinkRows, others: Floats) -> Floats:
    """The columns (N, p) of the link off each stay's own line on the first of `others` (N, k); own mass is the last.

    Least squares on them is fixed effects with a level and a slope of each stay's own.
    """
    gained = rows.mass - group_first(rows.stay, rows.mass)
    lines = own_lines(rows.stay, others[:, 0])
    beside = lines.off(np.column_stack([others[:, 1:], rows.intake]))
    beside = np.column_stack([beside, bends(lines, gained, every_form(rows.weeks))])
    return np.column_stack([beside[:, independent(beside)], lines.off(gained[:, None])])


def own_mass_error(rows: LinkRows, others: Floats) -> GroupError:
    """The error of the slope on own mass by athletes (two stays of one are not independent), `others` (N, k) held.

    See `few_clusters`: exact for few athletes where sessions are independent, right for many where they are not.
    """
    columns = columns_off_lines(rows, others)
    value = own_lines(rows.stay, others[:, 0]).off(rows.value[:, None])[:, 0]
    residual = value - columns @ np.linalg.lstsq(columns, value, rcond=None)[0]
    return _error_off_lines(rows, columns, residual)


def _error_off_lines(rows: LinkRows, columns: Floats, residual: Floats) -> GroupError:
    last = np.zeros(columns.shape[1])
    last[-1] = 1.0
    return group_error(columns, residual, pd.factorize(rows.athlete)[0].astype(np.int64), last)


def _usual_gain(rows: LinkRows) -> float:
    """Median over stays of three sessions or more of the change of mass from the first to the last, either way, kg."""
    many = group_counts(rows.stay) >= 3
    mass, codes = rows.mass[many], pd.factorize(rows.stay[many])[0]
    if not len(mass):
        return 0.0
    first, last = np.empty(codes.max() + 1), np.empty(codes.max() + 1)
    first[codes[::-1]] = mass[::-1]  # of several, the one that is written last stands
    last[codes] = mass
    return float(np.median(np.abs(last - first)))


def inflation(rows: LinkRows, held: Floats) -> float:
    """Variance inflation of own mass by time and `held` (N, k), all taken within stays; infinite if all.

    1 / (1 - R2) of own mass on every time form together and on `held`, each with its stay's mean taken off.
    All forms, not only the one in the model: where mass is itself a smooth function of time, the slope would
    rest on nothing but the choice of form.
    """
    forms = np.column_stack([time_columns("log", rows.weeks), time_columns("quadratic", rows.weeks), held])
    mass = rows.mass - group_means(rows.stay, rows.mass)
    centred = np.column_stack([column - group_means(rows.stay, column) for column in forms.T])
    rest = mass - centred @ np.linalg.lstsq(centred, mass, rcond=None)[0]
    full, left = float(mass @ mass), float(rest @ rest)
    return full / left if left > 1e-9 * full else float("inf")


def offset_variance(rows: LinkRows, x: Floats, z: Floats, fit: MixedFit) -> float:
    """Variance that the offsets of bridges put on the last coefficient; next to nothing where no stay has two devices.

    `x` (N, p) and `z` (N, q) are the columns that `fit` was fitted with.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    moved = [coefficients_at(group_sums(rows.stay, c, x, z), fit.L)[-1] for c in rows.offset_error.T]
    return float(np.sum(np.square(moved)))
