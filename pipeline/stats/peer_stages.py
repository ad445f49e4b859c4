"""Where a young athlete stands among those of his age, and among those at his stage of growth.

Two boys of fifteen may be two years apart in growth, and the earlier one is stronger for it. Peers of similar build
(`peers`) take age, height and mass off; here nothing is taken off, and the group changes instead: within a year of
his age, or in the same class by the growth peak. Given only where the published equations hold (8 to 16 years).
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

from pipeline.catalogue.model import Measure
from pipeline.stats.maturity import UNCERTAIN, maturity_band
from pipeline.stats.mixed_sums import Floats
from pipeline.stats.peer_build import with_build
from pipeline.stats.peer_weights import TINY, interval
from pipeline.stats.peers import FEWEST_PEERS, LEVEL, latest_values, peer_groups, session_noise
from pipeline.stats.results import MeasurementError
from pipeline.stats.results_peers import PeerStage

AGE, STAGE = "age", "growth stage"
YEARS: Final = 1.0  # an age band reaches so far each way
METHOD: Final = "share below with Jeffreys' interval, widened by {noise}"
NOISE, NO_NOISE = "the athlete's session noise", "nothing (session noise not known)"


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
    found: list[PeerStage] = []
    for key, sport, sex, group in peer_groups(latest):
        pool = group[group["reason"] == ""].reset_index(drop=True)
        sign = measures[key].gain(0.0, 1.0)
        for at in np.flatnonzero((pool["stage"] != "").to_numpy(bool)):
            found.extend(_both(pool, int(at), sign, f"program; {sport}; {sex}", level))
    return tuple(found)


def _stage(row: Mapping[Hashable, Any]) -> str:
    """The class by the growth peak on the day of the test; '' where no equation holds."""
    if row["reason"] != "":
        return ""
    sitting = float(row["sitting_cm"])
    band = maturity_band(
        sex=str(row["sex"]),
        age=float(row["age_years"]),
        height_cm=float(row["height_cm"]),
        sitting_cm=None if np.isnan(sitting) else sitting,
        mass_kg=float(row["mass_kg"]),
    )
    return "" if band.offset is None else band.stage


def _both(pool: pd.DataFrame, at: int, sign: float, reference: str, level: float) -> list[PeerStage]:
    own, others = pool.iloc[at], np.arange(len(pool)) != at
    age, stage = float(own["age_years"]), str(own["stage"])
    near = np.abs(pool["age_years"].to_numpy(dtype=float) - age) <= YEARS
    alike = (pool["stage"] == stage).to_numpy(bool) & (stage != UNCERTAIN)
    value = sign * pool["value"].to_numpy(dtype=float)
    rows = []
    for basis, group in ((AGE, near & others), (STAGE, alike & others)):
        peers = value[group]
        below = float((peers < value[at]).sum() + 0.5 * (peers == value[at]).sum())
        reason = _refusal(basis, stage, len(peers))
        ends = (None, None, None) if reason else _percentile(value[at], peers, below, own["noise"], level)
        rows.append(
            PeerStage(
                athlete_id=str(own["athlete_id"]),
                measure=str(own["measure"]),
                line=str(own["line"]),
                as_of=own["held_on"].date(),
                value=float(own["value"]),
                basis=basis,
                group_low=age - YEARS if basis == AGE else None,
                group_high=age + YEARS if basis == AGE else None,
                stage=stage,
                n_peers=len(peers),
                n_below=below,
                percentile=ends[0],
                low=ends[1],
                high=ends[2],
                reference=reference,
                verdict="refused" if reason else "shown",
                reason=reason,
                level=level,
                method=METHOD.format(noise=NO_NOISE if pd.isna(own["noise"]) else NOISE),
            )
        )
    return rows


def _refusal(basis: str, stage: str, n: int) -> str:
    if basis == STAGE and stage == UNCERTAIN:
        return "the growth equations do not agree on the stage"
    group = "within a year of age" if basis == AGE else "of the same growth stage"
    return f"{n} peers {group}, {FEWEST_PEERS} are needed" if n < FEWEST_PEERS else ""


def _percentile(
    value: float, peers: Floats, below: float, noise: float, level: float
) -> tuple[float, float, float]:
    """Percentile and interval of so many below; a noisy value moves against the spread of its peers."""
    spread = max(float(peers.std(ddof=1)), TINY)
    shift = 0.0 if pd.isna(noise) else noise / spread
    z = np.array([(value - float(peers.mean())) / spread])
    n = np.array([float(len(peers))])
    ends = interval(below / n, n, z, np.array([shift]), level)
    middle, low, high = (float(100.0 * end[0]) for end in ends)
    return middle, low, high
