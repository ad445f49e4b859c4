"""The variances of body mass and scales, pooled over stays by penalised maximum likelihood."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from latewood.pipeline.stats.engine.kalman import TYPICAL, MassVariances, Terms, Weighed, log_likelihood
from latewood.pipeline.stats.engine.switching import Handover, Wanted, run_switching

Floats = NDArray[np.float64]

# More stays than this add time, not knowledge.
STAYS_LIMIT: Final = 300
FEWEST_WEIGHINS: Final = 6

# A weak pull (on the log scale, logit for persistence) towards the typical values. Next to nothing against
# a camp's weigh-ins; keeps three weigh-ins from claiming a perfect scale.
PULL_SD: Final = 1.0
PROBE: Final = 1e-4

# Athletes who stall lie far outside a normal spread of rates. Taking the spread half as wide again brings the
# 95 % interval of the rate in week 4 from covering 89 % to 95 % (480 simulated stays, a quarter with a
# stall) at no greater error.
START_SPREAD: Final = 1.5

# A mass that stops for weeks is a hold, not a wandering level: the two are learned together. Start values and
# pulls by choice; a quarter of the stays with a hold of three to six weeks make about .02 and .2.
USUAL_HANDOVER: Final = Handover(hold=0.025, restart=0.20)
_HANDOVER_PULL: Final = (0.5, 0.8)
_HANDOVER_BOUNDS: Final = ((-6.0, -1.0), (-4.5, 1.0))
_BOUNDS: Final = ((-7.0, 1.5), (-9.0, 0.0), (-4.0, 1.5), (-4.0, 4.0), (-4.0, 1.5), (-2.0, 2.0), (-3.5, 0.7))


@dataclass(frozen=True, slots=True, kw_only=True)
class VarianceFit:
    """The pooled variances and what they were estimated from."""

    variances: MassVariances
    log_likelihood: float  # of the stays used, without the pull
    n_stays: int
    n_weighins: int
    converged: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseFit:
    """Pooled variances of a mass that moves or is held, with the weekly chances to hold and to restart."""

    variances: MassVariances
    handover: Handover
    n_stays: int


USUAL_COURSE: Final = CourseFit(variances=TYPICAL, handover=USUAL_HANDOVER, n_stays=0)


def estimate_course(weighed: Weighed, first_kg: Floats) -> CourseFit:
    """Return variances and weekly chances of holds and restarts, by the likelihood of both modes together.

    Stays are chosen as in `estimate_variances`; without any the usual values come back. `weighed` holds
    (days, stays), `first_kg` (stays,), kg.
    """
    chosen = _choose(weighed)
    if chosen.size == 0:
        return USUAL_COURSE
    count = weighed.readings[:, chosen]
    days = int(np.flatnonzero(count.any(axis=1))[-1]) + 1
    part = Weighed(weighed.kg[:days, chosen], count[:days])
    start = np.append(_pack(TYPICAL), [_log_odds(USUAL_HANDOVER.hold), _log_odds(USUAL_HANDOVER.restart)])
    result = minimize(
        _course_criterion,
        start,
        args=(part, first_kg[chosen], start),
        jac=True,
        method="L-BFGS-B",
        bounds=(*_BOUNDS, *_HANDOVER_BOUNDS),
        options={"maxiter": 40, "ftol": 1e-7},
    )
    hold, restart = (1.0 / (1.0 + np.exp(-result.x[-2:]))).tolist()
    return CourseFit(
        variances=_unpack(result.x[:-2]),
        handover=Handover(hold=hold, restart=restart),
        n_stays=int(chosen.size),
    )


def _course_criterion(
    point: Floats, weighed: Weighed, first_kg: Floats, centre: Floats
) -> tuple[float, Floats]:
    """Return minus the penalised log-likelihood per weigh-in and its gradient, as `_criterion` for both modes."""
    probes = np.vstack([point, point + PROBE * np.eye(point.size), point - PROBE * np.eye(point.size)])
    copies, stays = probes.shape[0], first_kg.size
    batch = Weighed(np.tile(weighed.kg, copies), np.tile(weighed.readings, copies))
    odds = np.repeat(probes[:, -2:].T, stays, axis=1)
    handover = (1.0 / (1.0 + np.exp(-odds[0])), 1.0 / (1.0 + np.exp(-odds[1])))
    terms = _terms(probes[:, :-2], stays)
    _, each = run_switching(
        batch, np.tile(first_kg, copies), terms, handover, Wanted(np.empty(0, dtype=np.int64))
    )
    pull_sd = np.append(np.full(point.size - 2, PULL_SD), _HANDOVER_PULL)
    pull = 0.5 * (((probes - centre) / pull_sd) ** 2).sum(axis=1)
    loss = (pull - each.reshape(copies, stays).sum(axis=1)) / weighed.readings.sum()
    up, down = loss[1 : 1 + point.size], loss[1 + point.size :]
    return float(loss[0]), (up - down) / (2.0 * PROBE)


def _log_odds(share: float) -> float:
    return math.log(share / (1.0 - share))


def estimate_variances(weighed: Weighed, first_kg: Floats) -> VarianceFit:
    """Return the variances that make the weigh-ins most likely, with a weak pull to the typical ones.

    Only stays with enough weigh-ins count, at most STAYS_LIMIT of them, evenly spread over the order given.
    Without any, the typical variances come back with `n_stays` 0.
    `weighed` holds (days, stays), `first_kg` (stays,), kg.
    """
    chosen = _choose(weighed)
    if chosen.size == 0:
        return VarianceFit(variances=TYPICAL, log_likelihood=0.0, n_stays=0, n_weighins=0, converged=True)
    count = weighed.readings[:, chosen]
    days = int(np.flatnonzero(count.any(axis=1))[-1]) + 1
    part = Weighed(weighed.kg[:days, chosen], count[:days])
    start = _pack(TYPICAL)
    result = minimize(
        _criterion,
        start,
        args=(part, first_kg[chosen], start),
        jac=True,
        method="L-BFGS-B",
        bounds=_BOUNDS,
        options={"maxiter": 60, "ftol": 1e-9},
    )
    variances = _unpack(result.x)
    best = float(log_likelihood(part, first_kg[chosen], _terms(result.x[None], chosen.size)).sum())
    return VarianceFit(
        variances=variances,
        log_likelihood=best,
        n_stays=int(chosen.size),
        n_weighins=int(part.readings.sum()),
        converged=bool(result.success),
    )


def _choose(weighed: Weighed) -> NDArray[np.intp]:
    enough = np.flatnonzero((weighed.readings > 0).sum(axis=0) >= FEWEST_WEIGHINS)
    if enough.size <= STAYS_LIMIT:
        return enough
    return enough[np.linspace(0, enough.size - 1, STAYS_LIMIT).round().astype(np.intp)]


def _criterion(point: Floats, weighed: Weighed, first_kg: Floats, centre: Floats) -> tuple[float, Floats]:
    """Return minus the penalised log-likelihood per weigh-in and its gradient.

    The point and both probes along each axis are filtered as one batch: the stays are repeated.
    """
    probes = np.vstack([point, point + PROBE * np.eye(point.size), point - PROBE * np.eye(point.size)])
    copies, stays = probes.shape[0], first_kg.size
    batch = Weighed(np.tile(weighed.kg, copies), np.tile(weighed.readings, copies))
    each = log_likelihood(batch, np.tile(first_kg, copies), _terms(probes, stays))
    pull = 0.5 * (((probes - centre) / PULL_SD) ** 2).sum(axis=1)
    loss = (pull - each.reshape(copies, stays).sum(axis=1)) / weighed.readings.sum()
    up, down = loss[1 : 1 + point.size], loss[1 + point.size :]
    return float(loss[0]), (up - down) / (2.0 * PROBE)


def _terms(points: Floats, stays: int) -> Terms:
    """Return filter terms with one value per stay, each point repeated for its copy of the stays."""
    spread = np.repeat(points.T, stays, axis=1)
    return Terms(
        level=np.exp(2.0 * spread[0]),
        rate=np.exp(2.0 * spread[1]),
        water=np.exp(2.0 * spread[2]),
        persistence=1.0 / (1.0 + np.exp(-spread[3])),
        reading=np.exp(2.0 * spread[4]),
        start_rate=spread[5],
        start_rate_var=np.exp(2.0 * spread[6]),
    )


def _pack(variances: MassVariances) -> Floats:
    """Return the point the optimiser moves: logarithms, log odds of persistence, the rate as it is."""
    return np.array([
        np.log(variances.level_sd),
        np.log(variances.rate_sd),
        np.log(variances.water_sd),
        np.log(variances.persistence / (1.0 - variances.persistence)),
        np.log(variances.reading_sd),
        variances.start_rate,
        np.log(variances.start_rate_sd / START_SPREAD),
    ])


def _unpack(point: Floats) -> MassVariances:
    level, rate, water, odds, reading, start_rate, start_rate_sd = point.tolist()
    return MassVariances(
        level_sd=math.exp(level),
        rate_sd=math.exp(rate),
        water_sd=math.exp(water),
        persistence=1.0 / (1.0 + math.exp(-odds)),
        reading_sd=math.exp(reading),
        start_rate=start_rate,
        start_rate_sd=START_SPREAD * math.exp(start_rate_sd),
    )
