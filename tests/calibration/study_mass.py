"""Weigh-ins: level, rate and forecast against planted mass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from latewood.pipeline.stats.engine.kalman import forecast
from latewood.pipeline.stats.plans.weighin import MassFit, mass_trends
from tests.calibration.outcome import Claim, Estimate, Study, mean_of, share_of
from tests.calibration.varied import seeded
from tests.camp_mass import draw_weighins
from tests.camps import DAYS

MASS_SEED = 7131
START = np.datetime64("2031-01-06")
LOOKED_ON, AHEAD = (27, 69, 97), 42


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """How a camp is weighed; `rate` None means ordinary gains, else that share of start mass a week."""

    name: str
    n: int = 40
    slips: float = 0.01
    per_week: tuple[int, int] = (2, 7)
    rate: float | None = None
    camps: int = 30


ORDINARY = Weighing(name="base, 1 % unit slips", camps=40)
VARIED = (
    ORDINARY,
    Weighing(name="no unit slips", slips=0.0, camps=15),
    Weighing(name="15 athletes", n=15, camps=30),
    Weighing(name="weighed once or twice a week", per_week=(1, 2), camps=15),
    Weighing(name="everybody holds their mass", rate=0.0, camps=15),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """Weigh-ins with the planted mass and rate, (athletes, DAYS); stay k is row k."""

    weighins: pd.DataFrame
    mass: np.ndarray
    rate: np.ndarray
    stays: pd.DataFrame


def weigh(rng: np.random.Generator, how: Weighing, last_day: int = LOOKED_ON[-1] + AHEAD) -> Weighed:
    """Gains that fade over 30 weeks, a quarter stalled for 3 to 6 weeks, slow wander, water, scale noise."""
    n, weeks = how.n, np.arange(DAYS) / 7
    start = rng.normal(72, 8, n)
    begin, length = rng.uniform(2, 14, n)[:, None], rng.uniform(3, 6, n)[:, None]
    stalled = (rng.random(n) < 0.25)[:, None] & (weeks >= begin) & (weeks < begin + length)
    ordinary = np.where(stalled, 0.0, rng.normal(0.45, 0.22, n)[:, None] * np.exp(-weeks / 30))
    rate = ordinary if how.rate is None else np.repeat(how.rate * start[:, None], DAYS, axis=1)
    gained = np.cumsum(rate / 7, axis=1)
    mass = start[:, None] + gained - gained[:, :1] + _wander(rng, n)
    ids = np.array([f"A{i:03d}" for i in range(n)])
    frame = pd.DataFrame({
        "athlete_id": ids,
        "stay_id": ids,
        "camp_id": "C",
        "arrival": START,
        "last_day": last_day,
    })
    stays = frame[["athlete_id", "stay_id"]].assign(arrived_on=START)
    return Weighed(
        weighins=draw_weighins(rng, frame, mass, how.per_week, how.slips), mass=mass, rate=rate, stays=stays
    )


def _wander(rng: np.random.Generator, n: int) -> np.ndarray:
    keep = np.exp(-1 / 28)
    steps = rng.normal(0, 0.5, (n, DAYS))
    for d in range(1, DAYS):
        steps[:, d] = keep * steps[:, d - 1] + np.sqrt(1 - keep**2) * steps[:, d]
    return steps


def known_on(camp: Weighed, day: int) -> pd.DataFrame:
    return camp.weighins[camp.weighins["measured_on"] <= START + np.timedelta64(day, "D")]


def _levels(camp: Weighed, fit: MassFit, k: int) -> pd.DataFrame:
    row = pd.Index(camp.stays["stay_id"]).get_indexer(fit.trend["stay_id"])
    day = (fit.trend["on_date"].to_numpy().astype("datetime64[D]") - START).astype(int)
    table = fit.trend.assign(row=row, day=day, camp=k)
    table = table[table["day"].isin(LOOKED_ON)]
    at = table["row"].to_numpy(), table["day"].to_numpy()
    return table.assign(mass=camp.mass[at], true_rate=camp.rate[at])


def _later(camp: Weighed, fit: MassFit, k: int) -> pd.DataFrame:
    final = fit.final
    row = pd.Index(camp.stays["stay_id"]).get_indexer(list(final.stay_id))
    day = (final.on_date.astype("datetime64[D]") - START).astype(int) + AHEAD
    mean, sd = forecast(final.mean, final.cov, np.full(len(row), AHEAD), fit.variances)
    return pd.DataFrame({"camp": k, "error": mean - camp.mass[row, day], "sd": sd})


def _inside(error: pd.Series, sd: pd.Series, camp: pd.Series) -> Estimate:
    return share_of(error.abs() <= 1.959964 * sd, camp)


def run_mass(size: float, varied: Sequence[Weighing] = VARIED) -> Study:
    rows, claims = [], []
    for at, how in enumerate(varied):
        levels, later, camps = [], [], max(4, round(how.camps * size))
        for k in range(camps):
            camp = weigh(seeded(MASS_SEED, at, k), how)
            fit = mass_trends(known_on(camp, LOOKED_ON[-1]))
            levels.append(_levels(camp, fit, k))
            later.append(_later(camp, fit, k))
        level, ahead = pd.concat(levels), pd.concat(later)
        error = level["kg"] - level["mass"]
        square = mean_of(error**2, level["camp"])
        rmse = Estimate(
            value=float(np.sqrt(square.value)),
            error=square.error / (2 * np.sqrt(square.value)),
            n=square.n,
            n_camps=square.n_camps,
        )
        own = _inside(error, level["kg_se"], level["camp"])
        rate = _inside(level["rate"] - level["true_rate"], level["rate_se"], level["camp"])
        six, bias = (
            _inside(ahead["error"], ahead["sd"], ahead["camp"]),
            mean_of(ahead["error"], ahead["camp"]),
        )
        rows.append([
            how.name,
            f"{camps} / {len(ahead)}",
            rmse.text(),
            own.text(),
            rate.text(),
            six.text(),
            bias.text(),
            mean_of(2 * 1.96 * ahead["sd"], ahead["camp"]).text(2),
        ])
        claims.append(
            Claim(
                key=f"six weeks: {how.name}",
                text=f"mass six weeks on held .93 to .98 ({how.name})",
                found=six,
                low=0.93,
                high=0.98,
            )
        )
        if how is ORDINARY:
            claims.append(
                Claim(
                    key="level rmse",
                    text="level with 1 % unit slips: error below .55 kg",
                    found=rmse,
                    high=0.55,
                )
            )
    return Study(
        name="mass",
        question="What does an athlete weigh, how fast do they gain, and what will they weigh in six weeks?",
        about="`mass_trends` on weigh-ins up to day 97: live level (kg) and rate (kg a week) on days 27, 69 and "
        "97, and the forecast 42 days ahead, against planted mass and planted rate.",
        seeds=f"({MASS_SEED}, variant 0–{len(varied) - 1}, camp 0…)",
        columns=(
            "variant",
            "camps / stays",
            "level error (RMSE)",
            "level held",
            "rate held",
            "six weeks held",
            "bias at six weeks",
            "width",
        ),
        rows=rows,
        claims=claims,
        notes=(
            "The live level of a day uses weigh-ins up to that day, but they are screened with later ones too.",
        ),
    )
