"""Which number finds a stalled plan first, at the same share of false alarms: simulated camps, weekly looks.

    python -m tests.bench.stall_alarms

Stays exactly on a plan of 20 weeks set each number's limit, so that as many ever pass it as a program states;
printed is the share of full stalls that pass it within six weeks. Every camp has estimated its own variances and
holds.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import logit

from latewood.pipeline.stats.engine.kalman import RATE, MassVariances, Weighed, run_filter, terms_of
from latewood.pipeline.stats.engine.switching import HELD, MOVING, Mixture, Modes, Wanted, run_switching
from latewood.pipeline.stats.plans import alarms
from latewood.pipeline.stats.plans.massvariance import CourseFit, estimate_course, estimate_variances
from latewood.pipeline.stats.plans.noise import alarm_variances
from latewood.pipeline.stats.plans.rules import PlanSettings, is_too_early, is_too_few

Floats = NDArray[np.float64]

SEED, CAMPS, STAYS, WEEKS = 20_331_130, 6, 300, 20
FALSE_SHARE = PlanSettings().false_share
PERCENTS, BEGINS = (0.25, 0.4, 0.6), (0, 6, 10)
DAYS = 7 * np.arange(1, WEEKS + 1)
HELD_RATE_SD = 0.06  # kg a week, of a mass that is held


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimates:
    """What a camp has estimated from other stays."""

    pooled: MassVariances
    course: CourseFit


def _modes(weighed: Weighed, planned: Floats, course: CourseFit, spread: float | None) -> tuple[Modes, ...]:
    """The states at each look: as plans are shown, or with `spread` as moving near the plan, else held for good."""
    usual = course.variances
    terms = terms_of(usual)._replace(
        start_rate=0.5 * (usual.start_rate + planned),
        start_rate_var=usual.start_rate_sd**2 + (planned - usual.start_rate) ** 2,
    )
    hold, restart = course.handover.hold, course.handover.restart
    if spread is not None:
        terms = terms._replace(
            start_rate=planned, start_rate_var=np.asarray(spread**2), rate=np.asarray(1e-8)
        )
        hold = restart = 0.02
    handover = (np.asarray(hold), np.asarray(restart))
    return run_switching(weighed, weighed.kg[0], terms, handover, Wanted(DAYS))[0]


def rate_of(modes: Modes) -> Mixture:
    """The rate now, kg a week: moving as filtered, held around 0."""
    sd = np.sqrt(modes.cov[RATE, RATE, MOVING])
    mean = modes.mean[RATE, MOVING]
    return Mixture(
        modes.weight, np.stack([mean, np.zeros_like(sd)]), np.stack([sd, np.full_like(sd, HELD_RATE_SD)])
    )


def _numbers(weighed: Weighed, planned: Floats, camp: Estimates) -> dict[str, Floats]:
    """Each number (look, stay), larger where a stall is likelier."""
    line = planned * np.arange(weighed.kg.shape[0])[:, None] / 7.0
    above = Weighed(weighed.kg - line, weighed.readings)
    result, course = {}, camp.course
    for name, variances in (
        ("filter, as shipped", alarm_variances(camp.pooled)),
        ("filter, rate wanders as estimated", replace(camp.pooled, start_rate=0.0)),
    ):
        path = run_filter(above, above.kg[0], terms_of(variances))
        result[name] = -path.after[DAYS, RATE] / np.sqrt(path.after_cov[DAYS, RATE, RATE])
    shown = _modes(weighed, planned, course, None)
    near = _modes(weighed, planned, course, 0.10)
    chances = {
        "holds, chance held": [one.weight[HELD] for one in shown],
        "holds, chance below half the plan": [rate_of(one).below(planned / 2.0) for one in shown],
        "holds, chance below the plan": [rate_of(one).below(planned) for one in shown],
        "on plan or held, chance held": [one.weight[HELD] for one in near],
    }
    return result | {name: logit(np.clip(np.stack(c), 1e-12, 1 - 1e-12)) for name, c in chances.items()}


def _estimated(rng: np.random.Generator) -> Estimates:
    weighed = alarms.ordinary_weighins(rng, WEEKS)
    pooled = estimate_variances(weighed, weighed.kg[0]).variances
    return Estimates(pooled=pooled, course=estimate_course(weighed, weighed.kg[0]))


def _judged(weighed: Weighed) -> NDArray[np.bool_]:
    """Looks (look, stay) with weigh-ins and weeks enough for a status."""
    rules, week = PlanSettings(), np.arange(1.0, WEEKS + 1.0)[:, None]
    recent = np.stack([weighed.readings[max(day - 13, 0) : day + 1].sum(axis=0) for day in DAYS])
    return ~is_too_few(recent, week, rules) & ~is_too_early(week, rules)


def first_calls(seed: int, camps: int, stays: int) -> dict[tuple[float, str, int | None], Floats]:
    """Each number (look, stays of all camps), minus infinity where not judged; by plan, name, and week of the stall."""
    rng, parts = np.random.default_rng(seed), {}
    day = np.arange(7 * WEEKS + 1)[:, None]
    for _ in range(camps):
        camp = _estimated(rng)
        for percent in PERCENTS:
            start = rng.normal(alarms.START_KG, alarms.START_KG_SD, stays)
            planned = percent / 100.0 * start
            for begins in (None, *BEGINS):
                rate = np.where(day < (7 * begins if begins is not None else np.inf), planned, 0.0)
                weighed = alarms.weigh(rng, start, rate)
                judged = _judged(weighed)
                for name, number in _numbers(weighed, planned, camp).items():
                    parts.setdefault((percent, name, begins), []).append(np.where(judged, number, -np.inf))
    return {key: np.concatenate(part, axis=1) for key, part in parts.items()}


def main() -> None:
    """Print one line per plan and number."""
    calls = first_calls(SEED, CAMPS, STAYS)
    for percent in PERCENTS:
        for name in dict.fromkeys(key[1] for key in calls):
            limit = np.quantile(calls[percent, name, None].max(axis=0), 1.0 - FALSE_SHARE)
            shares = []
            for begins in BEGINS:
                off = calls[percent, name, begins] > limit
                yet = ~off[:begins].any(axis=0)
                shares.append(f"week {begins}: {off[begins : begins + 6].any(axis=0)[yet].mean():.2f}")
            sys.stdout.write(f"{percent} % a week, {name}: stall from {', '.join(shares)}\n")


if __name__ == "__main__":
    main()
