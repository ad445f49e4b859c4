"""Standing among peers of similar build, against the planted percentile."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from scipy import stats

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.peers.standing import LEVEL, peer_standings
from tests.calibration.outcome import Claim, Estimate, Study, mean_of, share_of
from tests.calibration.varied import MEASURES, noise_sd, seeded
from tests.camp_paths import draw_build
from tests.camps import EXIT_SPEED, SPRINT, Process

PEER_SEED = 7151
TESTED = np.datetime64("2031-06-02")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """`bend` is added to what is usual for a build (in SDs between athletes), so that a quadratic is wrong."""

    name: str
    n: int = 150
    process: Process = EXIT_SPEED
    day_noise: bool = True
    skewed: bool = False
    bend: Callable[[pd.DataFrame], pd.Series] | None = None
    pools: int = 40


def _step(build: pd.DataFrame) -> pd.Series:
    return 1.0 * (build["mass0"] > 72) + 0.5 * np.sin(3 * build["age"])


POOLS = (
    Pool(name="150 athletes"),
    Pool(name="150 athletes, values without day-to-day noise", day_noise=False),
    Pool(name="60 athletes", n=60, pools=60),
    Pool(name="400 athletes", n=400, pools=10),
    Pool(name="lower is better (60-yard time)", process=SPRINT),
    Pool(name="skewed talent", skewed=True),
    Pool(name="usual value with a step at 72 kg and waves over age", bend=_step),
)


def _draw(rng: np.random.Generator, pool: Pool) -> tuple[pd.DataFrame, pd.DataFrame, np.ndarray, np.ndarray]:
    """Session values, people, and the percentile among shown values of the athlete's level and of their value."""
    build, p, n = draw_build(rng, pool.n), pool.process, pool.n
    usual = p.level + p.per_age * (build["age"] - 16) + p.per_height * (build["height"] - 175)
    usual = usual + p.between_per_kg * (build["mass0"] - 75)
    if pool.bend:
        usual = usual + p.spread * pool.bend(build)
    talent = (rng.exponential(1.0, n) - 1.0) if pool.skewed else rng.normal(0, 1, n)
    noise = noise_sd(p) if pool.day_noise else 0.0
    off = p.spread * talent + rng.normal(0, 1, n) * noise
    sign, mixed = (-1.0 if p.per_age < 0 else 1.0), float(np.hypot(p.spread, noise))
    if pool.skewed:
        many = p.spread * (rng.exponential(1.0, 200_000) - 1.0) + rng.normal(0, 1, 200_000) * noise
        level, shown = (np.searchsorted(np.sort(many), x) / many.size for x in (p.spread * talent, off))
    else:
        level, shown = (stats.norm.cdf(sign * x / mixed) for x in (p.spread * talent, off))
    values, people = _tables(build, p, (usual + off).to_numpy())
    return values, people, 100 * level, 100 * shown


def _tables(build: pd.DataFrame, p: Process, value: np.ndarray) -> tuple[pd.DataFrame, pd.DataFrame]:
    ids = [f"P{i:04d}" for i in range(len(build))]
    rows = [
        (p.measure, p.line, value),
        ("standing_height", "", build["height"]),
        ("body_mass", "", build["mass0"]),
    ]
    values = pd.concat(
        [
            pd.DataFrame({
                "session_id": [f"{a}@d" for a in ids],
                "athlete_id": ids,
                "stay_id": [f"{a}@C" for a in ids],
                "camp_id": "C",
                "held_on": pd.Timestamp(TESTED),
                "weeks": 0.0,
                "is_intake": False,
                "measure": key,
                "line": line,
                "own_line": line,
                "value": np.asarray(x, dtype=float),
                "shift": 0.0,
                "shift_se": 0.0,
                "best": np.asarray(x, dtype=float),
                "n_trials": 7,
                "trial_sd": p.trial_sd,
                "imports": "simulated",
            })
            for key, line, x in rows
        ],
        ignore_index=True,
    )
    born = [date.fromordinal(TESTED.item().toordinal() - round(365.25 * a)) for a in build["age"]]
    people = pd.DataFrame({"athlete_id": ids, "birth_date": born, "sex": "male", "sport": "baseball"})
    return values, people


def _measures(pool: Pool) -> dict[str, Measure]:
    """The catalogue with the planted noise as the declared one: one session each leaves no repeats."""
    key = pool.process.measure
    words = noise_sd(pool.process) if pool.day_noise else None
    return {**MEASURES, key: replace(MEASURES[key], typical_error=words)}


def run_peers(size: float, kinds: Sequence[Pool] = POOLS) -> Study:
    rows, claims = [], []
    for at, pool in enumerate(kinds):
        pools, parts, refused = max(5, round(pool.pools * size)), [], 0
        for k in range(pools):
            values, people, level, shown = _draw(seeded(PEER_SEED, at, k), pool)
            table = peer_standings(values, people, _measures(pool)).standings.sort_values("athlete_id")
            keep = (table["verdict"] != "refused").to_numpy()
            refused += int((~keep).sum())
            parts.append(table.assign(true=level, true_shown=shown, camp=k)[keep])
        table = pd.concat(parts, ignore_index=True)
        numbers = table[["percentile", "low", "high", "distance"]].astype(float)
        of_level = share_of(
            (numbers["low"] <= table["true"]) & (table["true"] <= numbers["high"]), table["camp"]
        )
        observed = table["true_shown"]
        of_shown = share_of((numbers["low"] <= observed) & (observed <= numbers["high"]), table["camp"])
        near = numbers["distance"] <= numbers["distance"].median()
        errors = [
            _rmse((numbers["percentile"] - observed)[part], table["camp"][part]) for part in (near, ~near)
        ]
        rows.append([
            pool.name,
            f"{pools} / {len(table)} / {refused}",
            of_shown.text(),
            of_level.text(),
            mean_of(numbers["percentile"] - observed, table["camp"]).text(2),
            f"{errors[0].text(2)}",
            f"{errors[1].text(2)}",
            f"{(numbers['high'] - numbers['low']).mean():.1f}",
        ])
        claims.append(
            Claim(
                key=f"peers: {pool.name}",
                text=f"{LEVEL:.0%} interval holds the percentile of the athlete's level, at least .87 ({pool.name})",
                found=of_level,
                low=0.87,
            )
        )
        if at == 0:
            claims += [
                Claim(
                    key="peers middle",
                    text="error in the middle below 6.5 points (150 athletes)",
                    found=errors[0],
                    high=6.5,
                    decimals=2,
                ),
                Claim(
                    key="peers edge",
                    text="error at the edge below 9.5 points (150 athletes)",
                    found=errors[1],
                    high=9.5,
                    decimals=2,
                ),
            ]
    return Study(
        name="peers",
        question="Where do they stand among athletes of similar build?",
        about=f"`peer_standings` ({LEVEL:.0%} interval) against the planted percentile among athletes of exactly that "
        "age, height and mass (who show values with their day's luck): of the value shown, and of the athlete's "
        "own level, without their day's luck. One session each; the planted noise is the declared typical error.",
        seeds=f"({PEER_SEED}, pool 0–{len(kinds) - 1}, draw 0…)",
        columns=(
            "pool",
            "draws / shown / refused",
            "holds percentile of the value",
            "of their level",
            "bias, points",
            "error, middle",
            "error, edge",
            "width, points",
        ),
        rows=rows,
        claims=claims,
    )


def _rmse(error: pd.Series, camp: pd.Series) -> Estimate:
    square = mean_of(error**2, camp)
    root = float(np.sqrt(square.value))
    return Estimate(value=root, error=square.error / (2 * root), n=square.n, n_camps=square.n_camps)
