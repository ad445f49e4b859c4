"""Where a young athlete stands among those of their age, and among those at their stage of growth.

Two boys of fifteen may be two years apart in growth, and the earlier one is stronger for it. Peers of similar build
(`peers`) take age, height and mass off; here nothing is taken off, and the group changes instead: within a year of
their age, or in the same class by the growth peak. Given only where the published equations hold (8 to 16 years).
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.results import MeasurementError
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.growth.maturity import UNCERTAIN, BodySize, maturity_band
from latewood.pipeline.stats.peers.build import with_build
from latewood.pipeline.stats.peers.results import PeerStage
from latewood.pipeline.stats.peers.standing import (
    FEWEST_PEERS,
    LEVEL,
    latest_values,
    peer_groups,
    session_noise,
)
from latewood.pipeline.stats.peers.weights import TINY, interval

AGE, STAGE = "age", "growth stage"
YEARS: Final = 1.0  # an age band reaches so far each way
METHOD: Final = "share below with Jeffreys' interval, widened by {noise}"
NOISE, NO_NOISE = "the athlete's session noise", "nothing (session noise not known)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One athlete beside one group of peers: how many, how many below (ties half), z among them, its error."""

    n: int
    below: float
    z: float
    shift: float


def peer_stages(
    session_values: pd.DataFrame,
    people: pd.DataFrame,
    measures: Mapping[str, Measure],
    errors: Sequence[MeasurementError] = (),
    level: float = LEVEL,
) -> tuple[PeerStage, ...]:
    """Return two standings, by age and by growth stage, of each athlete for whom a growth equation holds.

    Peers share measure, line, sport and sex; the value is that of `peer_standings`. By age: everybody within
    a year. By stage: those of 8 to 16 years in the same class; classes that two equations do not agree on
    count as uncertain, and an uncertain athlete is refused. Under 20 peers is refused. The order of results
    is that of measure, line, sport, sex, athlete.
    """
    latest = with_build(latest_values(session_values, measures), session_values, people)
    latest["noise"] = session_noise(latest, measures, errors)
    latest["stage"] = [_stage(row) for row in latest.to_dict("records")]
    result: list[PeerStage] = []
    for key, sport, sex, group in peer_groups(latest):
        pool = group[group["reason"] == ""].reset_index(drop=True)
        sign = measures[key].gain(0.0, 1.0)
        result += _pool_stages(pool, sign, f"program; {sport}; {sex}", level)
    return tuple(result)


def _stage(row: Mapping[Hashable, Any]) -> str:
    """The class by the growth peak on the day of the test; '' where no equation holds."""
    if row["reason"] != "":
        return ""
    sitting = float(row["sitting_cm"])
    band = maturity_band(
        sex=str(row["sex"]),
        age=float(row["age_years"]),
        size=BodySize(
            height_cm=float(row["height_cm"]),
            sitting_cm=None if np.isnan(sitting) else sitting,
            mass_kg=float(row["mass_kg"]),
        ),
    )
    return "" if band.offset is None else band.stage


def _pool_stages(pool: pd.DataFrame, sign: float, reference: str, level: float) -> list[PeerStage]:
    """Both standings of each athlete of a pool whose stage is known or uncertain."""
    age, stage = pool["age_years"].to_numpy(dtype=float), pool["stage"].to_numpy(dtype=object)
    value, noise = sign * pool["value"].to_numpy(dtype=float), pool["noise"].to_numpy(dtype=float)
    known = np.flatnonzero(stage != "")
    compared = [
        _compared(value, noise[at], int(at), group)
        for at in known
        for group in (np.abs(age - age[at]) <= YEARS, (stage == stage[at]) & (stage != UNCERTAIN))
    ]
    ends = _percentiles(compared, level)
    rows, days = pool.to_dict("records"), pool["held_on"].dt.date.to_list()
    result = []
    for k, (one, (middle, low, high)) in enumerate(zip(compared, ends, strict=True)):
        at, basis = int(known[k // 2]), (AGE, STAGE)[k % 2]
        own, reason = rows[at], _refusal(basis, str(stage[at]), one.n)
        result.append(
            PeerStage(
                athlete_id=str(own["athlete_id"]),
                measure=str(own["measure"]),
                line=str(own["line"]),
                as_of=days[at],
                value=float(own["value"]),
                basis=basis,
                group_low=float(age[at]) - YEARS if basis == AGE else None,
                group_high=float(age[at]) + YEARS if basis == AGE else None,
                stage=str(stage[at]),
                n_peers=one.n,
                n_below=one.below,
                percentile=None if reason else middle,
                low=None if reason else low,
                high=None if reason else high,
                reference=reference,
                verdict="refused" if reason else "shown",
                reason=reason,
                level=level,
                method=METHOD.format(noise=NO_NOISE if np.isnan(noise[at]) else NOISE),
            )
        )
    return result


def _compared(value: Floats, noise: float, at: int, group: NDArray[np.bool_]) -> Compared:
    """One athlete beside the others of a group; their noisy value moves against the spread of their peers."""
    peers = value[group & (np.arange(len(value)) != at)]
    below = float((peers < value[at]).sum() + 0.5 * (peers == value[at]).sum())
    if len(peers) < FEWEST_PEERS:
        return Compared(n=len(peers), below=below, z=0.0, shift=0.0)
    spread = max(float(peers.std(ddof=1)), TINY)
    shift = 0.0 if np.isnan(noise) else noise / spread
    z = (float(value[at]) - float(peers.mean())) / spread
    return Compared(n=len(peers), below=below, z=z, shift=float(shift))


def _percentiles(compared: Sequence[Compared], level: float) -> list[tuple[float, float, float]]:
    """Percentile, low and high of each, worked out together."""
    if not compared:
        return []
    n = np.array([max(one.n, 1) for one in compared], dtype=float)
    below, z, shift = np.array([[one.below, one.z, one.shift] for one in compared]).T
    ends = interval(below / n, n, z, shift, level)
    return [(float(a), float(b), float(c)) for a, b, c in zip(*(100.0 * end for end in ends), strict=True)]


def _refusal(basis: str, stage: str, n: int) -> str:
    if basis == STAGE and stage == UNCERTAIN:
        return "the growth equations do not agree on the stage"
    group = "within a year of age" if basis == AGE else "of the same growth stage"
    return f"{n} peers {group}, {FEWEST_PEERS} are needed" if n < FEWEST_PEERS else ""
