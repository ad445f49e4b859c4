"""Level, rate and water of body mass, day by day: a Kalman filter and smoother over many stays at once.

State of one stay on one day: level (kg), rate (kg a week, damped over 25 weeks) and water (kg, first-order
autoregressive). A weigh-in reads level + water + noise. Arrays run (day, state, stay) so that every step is
a few operations on whole rows of stays; days without a weigh-in are carried forward.

Durbin J, Koopman SJ 2012, Time Series Analysis by State Space Methods, 2nd ed., Oxford, chapter 4.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DAYS_PER_WEEK: Final = 7.0
STEP: Final = 1.0 / DAYS_PER_WEEK
DAMPING_WEEKS: Final = 25.0
DAMPING: Final = float(np.exp(-1.0 / (DAYS_PER_WEEK * DAMPING_WEEKS)))

# The level starts knowing next to nothing; the rate starts at what athletes of the program usually gain.
START_LEVEL_SD: Final = 20.0

LEVEL, RATE, WATER = 0, 1, 2
PAST = 3  # where it is kept: the level on an earlier day, which no longer changes


@dataclass(frozen=True, slots=True, kw_only=True)
class MassVariances:
    """How body mass and scales behave, pooled over all stays. Kg and days unless said."""

    level_sd: float  # wander of the level, kg per root day
    rate_sd: float  # wander of the rate, kg a week per root day
    water_sd: float  # spread of water around the level, kg
    persistence: float  # of water from one day to the next
    reading_sd: float  # of one weigh-in around level and water, kg
    start_rate: float  # usual rate at the start of a stay, kg a week
    start_rate_sd: float  # between athletes, kg a week


# Used as they are where there are too few weigh-ins to estimate from. Common practice, no source.
TYPICAL: Final = MassVariances(
    level_sd=0.10,
    rate_sd=0.02,
    water_sd=0.50,
    persistence=0.50,
    reading_sd=0.30,
    start_rate=0.20,
    start_rate_sd=0.30,
)


class Weighed(NamedTuple):
    """Day means (day, stay), and how many weigh-ins each is of (0 where there is none)."""

    kg: Floats
    readings: NDArray[np.int64]


class Terms(NamedTuple):
    """The variances as the filter uses them; each a number, or an array with one value per stay."""

    level: Floats
    rate: Floats
    water: Floats  # stationary
    persistence: Floats
    reading: Floats
    start_rate: Floats  # mean
    start_rate_var: Floats
    drive: Floats = np.asarray(1.0)  # share of the rate that moves the level: 0 while mass is held


class Filtered(NamedTuple):
    """Means (day, 3, stay) and covariances (day, 3, 3, stay) before and after each day's weigh-in."""

    before: Floats
    before_cov: Floats
    after: Floats
    after_cov: Floats
    surprise: Floats  # (day, stay), 0 where not weighed
    surprise_var: Floats  # (day, stay), infinite where not weighed
    log_likelihood: Floats  # (stay,)


class Smoothed(NamedTuple):
    """Means (day, 3, stay) and covariances (day, 3, 3, stay) given all weigh-ins of the stay."""

    mean: Floats
    cov: Floats


def terms_of(variances: MassVariances) -> Terms:
    """Return the filter's terms of one set of variances, the same for every stay."""
    return Terms(
        level=np.asarray(variances.level_sd**2),
        rate=np.asarray(variances.rate_sd**2),
        water=np.asarray(variances.water_sd**2),
        persistence=np.asarray(variances.persistence),
        reading=np.asarray(variances.reading_sd**2),
        start_rate=np.asarray(variances.start_rate),
        start_rate_var=np.asarray(variances.start_rate_sd**2),
    )


def run_filter(weighed: Weighed, first_kg: Floats, terms: Terms) -> Filtered:
    """Return the filter's means and covariances for each day, and each stay's log-likelihood.

    `first_kg` (stay,) is where the level starts; its uncertainty is START_LEVEL_SD.
    """
    days, stays = weighed.kg.shape
    before, after = np.empty((2, days, 3, stays))
    before_cov, after_cov = np.empty((2, days, 3, 3, stays))
    surprise, surprise_var = np.empty((2, days, stays))
    mean, cov = begin(first_kg, terms)
    for day in range(days):
        before[day], before_cov[day] = mean, cov
        mean, cov, surprise[day], surprise_var[day] = update(
            mean, cov, weighed.kg[day], weighed.readings[day], terms
        )
        after[day], after_cov[day] = mean, cov
        mean, cov = predict(mean, cov, terms)
    likelihood = log_density(surprise, surprise_var).sum(axis=0)
    return Filtered(before, before_cov, after, after_cov, surprise, surprise_var, likelihood)


def log_likelihood(weighed: Weighed, first_kg: Floats, terms: Terms) -> Floats:
    """Return each stay's log-likelihood alone, without keeping the path.

    `weighed` holds (days, stays), `first_kg` (stays,), kg; the result (stays,).
    """
    days, stays = weighed.kg.shape
    surprise, surprise_var = np.empty((2, days, stays))
    mean, cov = begin(first_kg, terms)
    for day in range(days):
        mean, cov, surprise[day], surprise_var[day] = update(
            mean, cov, weighed.kg[day], weighed.readings[day], terms
        )
        mean, cov = predict(mean, cov, terms)
    total: Floats = log_density(surprise, surprise_var).sum(axis=0)
    return total


def run_smoother(filtered: Filtered, terms: Terms) -> Smoothed:
    """Return means and covariances given the whole stay.

    Backward recursion for the smoothing vector and its variance (Durbin & Koopman 2012, section 4.4); no
    covariance is inverted.
    """
    mean, cov = np.empty_like(filtered.before), np.empty_like(filtered.before_cov)
    stays = mean.shape[2]
    vector, spread = np.zeros((3, stays)), np.zeros((3, 3, stays))
    for day in range(mean.shape[0] - 1, -1, -1):
        prior, prior_cov = filtered.before[day], filtered.before_cov[day]
        inverse = 1.0 / filtered.surprise_var[day]
        gain = (prior_cov[:, LEVEL] + prior_cov[:, WATER]) * inverse
        vector = _carry_back(vector, terms)
        spread = _carry_back(_carry_back(spread, terms).swapaxes(0, 1), terms)
        pushed = (spread * gain[None]).sum(axis=1)
        twice = (pushed * gain).sum(axis=0) + inverse
        shift = filtered.surprise[day] * inverse - (gain * vector).sum(axis=0)
        for observed in (LEVEL, WATER):
            vector[observed] += shift
            spread[observed] -= pushed
            spread[:, observed] -= pushed
        for row in (LEVEL, WATER):
            for column in (LEVEL, WATER):
                spread[row, column] += twice
        mean[day] = prior + (prior_cov * vector[None]).sum(axis=1)
        cov[day] = prior_cov - _product(_product(prior_cov, spread), prior_cov)
    return Smoothed(mean, cov)


def stretch(filtered: Filtered, first: int, stop: int) -> Filtered:
    """Return the path from day `first` to before `stop` alone; smoothing it uses weigh-ins before `stop`."""
    return filtered._replace(
        before=filtered.before[first:stop],
        before_cov=filtered.before_cov[first:stop],
        after=filtered.after[first:stop],
        after_cov=filtered.after_cov[first:stop],
        surprise=filtered.surprise[first:stop],
        surprise_var=filtered.surprise_var[first:stop],
    )


def forecast(
    mean: Floats, cov: Floats, days: NDArray[np.int64], variances: MassVariances
) -> tuple[Floats, Floats]:
    """Return expected level (n,) and its standard deviation (n,) so many days after a state.

    `mean` (n, 3) and `cov` (n, 3, 3) are states after the last weigh-in; `days` (n,) at least 0.
    """
    reach = STEP * (1.0 - DAMPING ** np.arange(int(days.max(initial=0)) + 1)) / (1.0 - DAMPING)
    wander = variances.level_sd**2 + reach**2 * variances.rate_sd**2
    added = np.concatenate(([0.0], np.cumsum(wander)))[days]
    along = reach[days]
    level = mean[:, LEVEL] + along * mean[:, RATE]
    variance = cov[:, 0, 0] + 2.0 * along * cov[:, 0, 1] + along**2 * cov[:, 1, 1] + added
    return level, np.sqrt(variance)


def begin(first_kg: Floats, terms: Terms) -> tuple[Floats, Floats]:
    """Return mean (3, stay) and covariance (3, 3, stay) of the first morning, before its weigh-in; kg, kg a week."""
    mean, cov = np.zeros((3, first_kg.size)), np.zeros((3, 3, first_kg.size))
    mean[LEVEL], mean[RATE] = first_kg, terms.start_rate
    cov[LEVEL, LEVEL] = START_LEVEL_SD**2
    cov[RATE, RATE] = terms.start_rate_var
    cov[WATER, WATER] = terms.water
    return mean, cov


def update(
    mean: Floats, cov: Floats, kg: Floats, count: NDArray[np.int64], terms: Terms
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return mean and covariance after the day's weigh-in, the surprise and its variance.

    `mean` (3, ..., stay) and `cov` (3, 3, ..., stay); `kg` and `count` (stay,). The last two come back (..., stay).
    """
    observed = count > 0
    covariance = cov[:, LEVEL] + cov[:, WATER]
    variance = covariance[LEVEL] + covariance[WATER] + terms.reading / np.maximum(count, 1)
    variance = np.where(observed, variance, np.inf)
    surprise = np.where(observed, kg - mean[LEVEL] - mean[WATER], 0.0)
    gain = covariance / variance
    return mean + gain * surprise, cov - gain[:, None] * covariance[None], surprise, variance


def predict(mean: Floats, cov: Floats, terms: Terms) -> tuple[Floats, Floats]:
    """Return mean (3, ..., stay) and covariance (3, 3, ..., stay) of the next morning; a past level comes along."""
    moved = _carry(_carry(cov, terms).swapaxes(0, 1), terms)
    moved[LEVEL, LEVEL] += terms.level
    moved[RATE, RATE] += terms.rate
    moved[WATER, WATER] += terms.water * (1.0 - terms.persistence**2)
    return _carry(mean, terms), moved


def _carry(x: Floats, terms: Terms) -> Floats:
    """Return the transition applied to the first axis."""
    out = np.empty_like(x)
    out[LEVEL] = x[LEVEL] + STEP * terms.drive * x[RATE]
    out[RATE] = DAMPING * x[RATE]
    out[WATER] = terms.persistence * x[WATER]
    out[PAST:] = x[PAST:]
    return out


def _carry_back(x: Floats, terms: Terms) -> Floats:
    """Return the transposed transition applied to the first axis."""
    out = np.empty_like(x)
    out[LEVEL] = x[LEVEL]
    out[RATE] = STEP * terms.drive * x[LEVEL] + DAMPING * x[RATE]
    out[WATER] = terms.persistence * x[WATER]
    return out


def _product(left: Floats, right: Floats) -> Floats:
    """Return the matrix product of two stacks (3, 3, stay)."""
    total: Floats = (left[:, :, None] * right[None]).sum(axis=1)
    return total


def log_density(surprise: Floats, variance: Floats) -> Floats:
    """Return the normal log-density of each surprise, 0 where there was no weigh-in; all (..., stay)."""
    observed = np.isfinite(variance)
    safe = np.where(observed, variance, 1.0)
    return np.where(observed, -0.5 * (np.log(2.0 * np.pi * safe) + surprise**2 / safe), 0.0)
