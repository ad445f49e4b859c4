"""Body mass that moves or is held: two Kalman filters that hand over to each other, over many stays at once.

Both modes see the same level, rate and water (`kalman`); in the held one the rate does not move the level. Once a
week a stay may change its mode, and the two states are mixed to one normal state per mode; day by day the modes are
weighted by how likely each made the weigh-in.

Blom HAP, Bar-Shalom Y 1988, IEEE Trans Automat Contr 33(8):780-783 (interacting multiple models; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from latewood.pipeline.stats.engine.kalman import (
    DAYS_PER_WEEK,
    LEVEL,
    PAST,
    MassVariances,
    Terms,
    Weighed,
    begin,
    log_density,
    predict,
    terms_of,
    update,
)

Floats = NDArray[np.float64]

MOVING, HELD = 0, 1
HANDOVER_DAYS: Final = 7

# A stay begins held with this chance. By choice.
HELD_AT_FIRST: Final = 0.10
TINY: Final = float(np.finfo(float).tiny)


@dataclass(frozen=True, slots=True, kw_only=True)
class Handover:
    """The chance to change the mode from one week to the next."""

    hold: float  # moving, then held
    restart: float  # held, then moving


class Modes(NamedTuple):
    """A state per mode: weights (2, stay), means (3, 2, stay) and covariances (3, 3, 2, stay)."""

    weight: Floats
    mean: Floats
    cov: Floats

    def of(self, stays: NDArray[np.intp]) -> Modes:
        """The same of the chosen stays alone; `stays` (n,) are their numbers."""
        return Modes(self.weight[:, stays], self.mean[..., stays], self.cov[..., stays])


class Wanted(NamedTuple):
    """The days (n,), rising, whose states are kept, and from which day on (stay,) a stay keeps its level, if any."""

    days: NDArray[np.int64]
    marks: NDArray[np.int64] | None = None


class Mixture(NamedTuple):
    """Normal distributions in shares: each (2, stay)."""

    weight: Floats
    mean: Floats
    sd: Floats

    def below(self, limit: Floats) -> Floats:
        """The chance (stay,) to lie below a limit (stay,)."""
        apart = (limit - self.mean) / np.maximum(self.sd, TINY**0.25)
        share: Floats = (self.weight * ndtr(apart)).sum(axis=0)
        return share

    def centre(self) -> Floats:
        """The mean (stay,)."""
        mean: Floats = (self.weight * self.mean).sum(axis=0)
        return mean

    def spread(self) -> Floats:
        """The standard deviation (stay,)."""
        square = (self.weight * (self.sd**2 + (self.mean - self.centre()) ** 2)).sum(axis=0)
        return np.asarray(np.sqrt(square))

    def quantile(self, share: float) -> Floats:
        """The value (stay,) below which that share of the distribution lies, by bisection."""
        low, high = (self.mean - 9.0 * self.sd).min(axis=0), (self.mean + 9.0 * self.sd).max(axis=0)
        for _ in range(60):
            middle = 0.5 * (low + high)
            short = self.below(middle) < share
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        return np.asarray(0.5 * (low + high))


def in_two_modes(terms: Terms) -> Terms:
    """Return the terms for both modes: `drive` (2, 1), the others as they are, of one stay or of each."""
    return terms._replace(drive=np.array([[1.0], [0.0]]))


def run_switching(
    weighed: Weighed,
    first_kg: Floats,
    terms: Terms,
    handover: tuple[Floats, Floats],
    wanted: Wanted,
) -> tuple[tuple[Modes, ...], Floats]:
    """Return the modes after the weigh-ins of each of the days `wanted`, and each stay's log-likelihood.

    `first_kg` (stay,) is where the level starts; `handover` holds the weekly chances to hold and to restart, each a
    number or (stay,). With marks the states have a fourth value, from that day on the level on it (a state that keeps
    an earlier one, as for fixed-lag smoothing: Anderson, Moore 1979, Optimal Filtering, section 7.3; from memory).
    """
    modes, total, kept = _first(first_kg, terms), np.zeros(first_kg.size), []
    days, marks, both = set(wanted.days.tolist()), wanted.marks, in_two_modes(terms)
    if marks is not None:
        modes = _with_past(modes)
    for day in range(weighed.kg.shape[0]):
        if day and day % HANDOVER_DAYS == 0:
            modes = _hand_over(modes, *handover)
        mean, cov, surprise, variance = update(
            modes.mean, modes.cov, weighed.kg[day], weighed.readings[day], both
        )
        weight, likelihood = _weighed(modes.weight, log_density(surprise, variance))
        total += likelihood
        if marks is not None:
            _mark(mean, cov, marks == day)
        if day in days:
            kept.append(Modes(weight, mean, cov))
        modes = Modes(weight, *predict(mean, cov, both))
    return tuple(kept), total


def pace_of(modes: Modes, days: Floats) -> Mixture:
    """Return the mean rate, kg a week, since the level was marked, so many days ago (stay,)."""
    weeks = days / DAYS_PER_WEEK
    variance = modes.cov[LEVEL, LEVEL] + modes.cov[PAST, PAST] - 2.0 * modes.cov[LEVEL, PAST]
    return Mixture(
        modes.weight,
        (modes.mean[LEVEL] - modes.mean[PAST]) / weeks,
        np.sqrt(np.maximum(variance, TINY)) / weeks,
    )


def level_of(modes: Modes) -> Mixture:
    """Return the level, kg."""
    return Mixture(modes.weight, modes.mean[LEVEL], np.sqrt(modes.cov[LEVEL, LEVEL]))


def forecast_modes(
    modes: Modes, days: NDArray[np.int64], variances: MassVariances, handover: Handover
) -> Mixture:
    """Return the level, kg, so many days (stay,) after a state; holds and restarts to come are in it."""
    terms = in_two_modes(terms_of(variances))
    out = Mixture(*(part.copy() for part in level_of(modes)))
    hold, restart = np.asarray(handover.hold), np.asarray(handover.restart)
    for day in range(1, int(days.max(initial=0)) + 1):
        modes = Modes(modes.weight, *predict(modes.mean, modes.cov, terms))
        if day % HANDOVER_DAYS == 0:
            modes = _hand_over(modes, hold, restart)
        here = days == day
        if here.any():
            for part, now in zip(out, level_of(modes), strict=True):
                part[:, here] = now[:, here]
    return out


def _first(first_kg: Floats, terms: Terms) -> Modes:
    mean, cov = begin(first_kg, terms)
    weight = np.repeat([[1.0 - HELD_AT_FIRST], [HELD_AT_FIRST]], first_kg.size, axis=1)
    return Modes(weight, np.repeat(mean[:, None], 2, axis=1), np.repeat(cov[:, :, None], 2, axis=2))


def _with_past(modes: Modes) -> Modes:
    """Return the states with room for a level of the past, which is nothing yet."""
    mean = np.concatenate([modes.mean, np.zeros_like(modes.mean[:1])])
    cov = np.zeros((PAST + 1, *mean.shape))
    cov[:PAST, :PAST] = modes.cov
    return modes._replace(mean=mean, cov=cov)


def _mark(mean: Floats, cov: Floats, here: NDArray[np.bool_]) -> None:
    """Note the level as the past one of the stays that are `here` (stay,), in place."""
    mean[PAST][:, here] = mean[LEVEL][:, here]
    cov[PAST][..., here] = cov[LEVEL][..., here]
    cov[:, PAST][..., here] = cov[:, LEVEL][..., here]


def _weighed(weight: Floats, density: Floats) -> tuple[Floats, Floats]:
    """Return the weights after a weigh-in of log-density (2, stay), and its log-likelihood (stay,)."""
    top = density.max(axis=0)
    likely = weight * np.exp(density - top)
    total = likely.sum(axis=0)
    return likely / total, top + np.log(total)


def _hand_over(modes: Modes, hold: Floats, restart: Floats) -> Modes:
    """Return one normal state per mode, with the mean and covariance of all that may have come to it."""
    moving, held = modes.weight[MOVING], modes.weight[HELD]
    after = np.stack([moving * (1.0 - hold) + held * restart, moving * hold + held * (1.0 - restart)])
    from_moving = np.stack([moving * (1.0 - hold), moving * hold]) / np.maximum(after, TINY)
    apart = (modes.mean[:, MOVING] - modes.mean[:, HELD])[:, None]
    mean = from_moving * modes.mean[:, :1] + (1.0 - from_moving) * modes.mean[:, 1:]
    cov = from_moving * modes.cov[:, :, :1] + (1.0 - from_moving) * modes.cov[:, :, 1:]
    cov += from_moving * (1.0 - from_moving) * (apart[:, None] * apart[None])
    return Modes(after, mean, cov)
