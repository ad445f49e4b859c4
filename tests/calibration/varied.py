"""The base process and the ways in which it is varied; every camp from a seed (study, variant, camp)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.load import load_catalogue
from tests.camps import EXIT_SPEED, JUMP, MPH, SPRINT, Camp, Process, simulate_camp

MEASURES = load_catalogue().measures
NO_CHANGE = replace(EXIT_SPEED, per_kg=0.0, per_kg_sd=0.0, per_strength=0.0, learning_form="none")
ALMOST_NONE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Variant:
    """A process and how its camps are drawn; `still` is the share of athletes who do not change.

    `noise_spread` is the SD between athletes of the log of their session noise. Session noise is carried on where
    `half_life` (days) is above zero: `carried` of its variance fades by half in so long.
    """

    name: str
    process: Process = EXIT_SPEED
    heavy_tails: bool = False
    noise_spread: float = 0.0
    half_life: float = 0.0
    carried: float = 0.6
    still: float = 0.0
    options: Mapping[str, Any] = field(default_factory=dict)

    @property
    def unit(self) -> float:
        """What the numbers of a table are divided by: exit speeds are told in mph."""
        return MPH if self.process.measure == EXIT_SPEED.measure else 1.0

    @property
    def unit_name(self) -> str:
        return {EXIT_SPEED.measure: "mph", SPRINT.measure: "s", JUMP.measure: "cm"}[self.process.measure]


BASE = Variant(name="base")
NOBODY = Variant(name="nobody changes", process=NO_CHANGE, still=1.0)
LOWER = Variant(name="lower is better (60-yard time)", process=SPRINT)
HEAVY = Variant(name="heavy-tailed noise (t3)", heavy_tails=True)
FEW = Variant(name="15 athletes", options={"n": 15})
MANY = Variant(name="80 athletes", options={"n": 80})
IRREGULAR = Variant(name="irregular tests (5 to 45 days apart)", options={"test_gap_days": (5, 45)})
UNEQUAL = Variant(name="noise differs between athletes (SD of its log .3)", noise_spread=0.3)
CARRIED = Variant(name="noise carried on (three fifths of it, half-life 14 days)", half_life=14.0)
BOTH = Variant(name="noise differs and is carried on", noise_spread=0.3, half_life=14.0)
TRAVEL = Variant(name="intake a bad day for all (−2 mph)", options={"bad_day_share": 1.0})


def seeded(study: int, variant: int, camp: int) -> np.random.Generator:
    """The generator of one camp of one variant of one study."""
    return np.random.default_rng((study, variant, camp))


@cache
def noise_sd(process: Process) -> float:
    """SD of a session value around the athlete's ability (median of 5 to 10 trials), by simulation."""
    rng = np.random.default_rng((7100, 0))
    n = 200_000
    trials = rng.normal(0, process.trial_sd, (n, 10))
    short = rng.random((n, 10)) < process.mishit_share
    trials += np.where(short, rng.uniform(*process.mishit, (n, 10)), 0.0)
    trials[np.arange(10) >= rng.integers(5, 11, n)[:, None]] = np.nan
    return float(np.hypot(process.session_sd, np.nanmedian(trials, axis=1).std()))


def t3_noise(rng: np.random.Generator, process: Process, size: int) -> np.ndarray:
    """Session noise of the usual SD with the tails of a t on 3 degrees of freedom."""
    return rng.standard_t(3, size) / np.sqrt(3.0) * noise_sd(process)


def carried_noise(rng: np.random.Generator, variant: Variant, camp: Camp, values: pd.DataFrame) -> np.ndarray:
    """Session noise of the usual SD, part of which is still there at the athlete's next session."""
    row, day = places(camp, values)
    fresh = rng.normal(0.0, 1.0, len(values))
    if not variant.half_life > 0.0:
        return noise_sd(variant.process) * fresh
    lasting = rng.normal(0.0, 1.0, len(values))
    order = np.lexsort((day, row))
    for at, before in zip(order[1:], order[:-1], strict=True):
        if row[at] == row[before]:
            left = 0.5 ** ((day[at] - day[before]) / variant.half_life)
            lasting[at] = left * lasting[before] + np.sqrt(1.0 - left**2) * lasting[at]
    share = variant.carried
    return noise_sd(variant.process) * (np.sqrt(share) * lasting + np.sqrt(1.0 - share) * fresh)


def draw(rng: np.random.Generator, variant: Variant, **options: Any) -> Camp:
    """One camp of the variant; `options` are added to the variant's own. Sessions of the output only."""
    chosen = {"n": 40, "weigh": False, **variant.options, **options}
    process = variant.process
    quiet = replace(process, session_sd=ALMOST_NONE, trial_sd=ALMOST_NONE, mishit_share=0.0)
    own_noise = variant.heavy_tails or variant.noise_spread > 0.0 or variant.half_life > 0.0
    camp = simulate_camp(rng, process=quiet if own_noise else process, **chosen)
    values = camp.session_values
    values = values[values["measure"] == process.measure].reset_index(drop=True)
    camp = replace(camp, session_values=values, process=process)
    if variant.heavy_tails:
        values["value"] += t3_noise(rng, process, len(values))
    elif own_noise:
        factor = np.exp(rng.normal(0.0, variant.noise_spread, len(camp.truth)) - variant.noise_spread**2)
        camp = replace(camp, truth=camp.truth.assign(noise=factor))
        values["value"] += factor[places(camp, values)[0]] * carried_noise(rng, variant, camp, values)
    return _stopped(camp, variant.still) if variant.still else camp


def _stopped(camp: Camp, share: float) -> Camp:
    """The camp with the change of a share of its athletes taken out of ability and sessions."""
    n = len(camp.truth)
    still = np.arange(n) % 20 < round(20 * share)
    change = np.where(still[:, None], camp.ability - camp.ability[:, :1], 0.0)
    values = camp.session_values.copy()
    row, day = places(camp, values)
    values["value"] -= change[row, day]
    return replace(
        camp, ability=camp.ability - change, session_values=values, truth=camp.truth.assign(still=still)
    )


def places(camp: Camp, sessions: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Row of `camp.truth` and day since arrival of each session."""
    row = pd.Index(camp.truth["stay_id"]).get_indexer(sessions["stay_id"])
    return row, np.rint(7 * sessions["weeks"].to_numpy(dtype=float)).astype(int)


def fresh_session(
    rng: np.random.Generator, variant: Variant, camp: Camp, stay_ids: pd.Series, days: np.ndarray
) -> np.ndarray:
    """A new session value of those stays on those days, with the variant's noise."""
    if variant.heavy_tails:
        return camp.true_value(stay_ids, days) + t3_noise(rng, variant.process, len(days))
    return camp.new_session(rng, stay_ids, days)


def as_frame(results: Any) -> pd.DataFrame:
    """Frozen results as a table, one column per field."""
    rows = [{name: getattr(r, name) for name in r.__dataclass_fields__} for r in results]
    return pd.DataFrame(rows)


def own_line_change(codes: np.ndarray, weeks: np.ndarray, value: np.ndarray, k: int) -> np.ndarray:
    """Slope times span of the least-squares line of each group, (k,)."""
    n = np.maximum(np.bincount(codes, minlength=k), 1)
    off = weeks - (np.bincount(codes, weeks, k) / n)[codes]
    spread = np.bincount(codes, off * off, k)
    low, high = np.full(k, np.inf), np.full(k, -np.inf)
    np.minimum.at(low, codes, weeks)
    np.maximum.at(high, codes, weeks)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.bincount(codes, off * value, k) / spread * (high - low)
