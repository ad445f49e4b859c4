"""Whether camps differ, and which: false calls among equal camps, power, and intervals that hold together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from latewood.pipeline.stats.change.camp_gains import cohorts
from latewood.pipeline.stats.engine.heterogeneity import heterogeneity
from latewood.pipeline.stats.engine.pairwise import differences
from tests.calibration.outcome import Claim, Estimate, Study, share_of
from tests.calibration.study_camp import population
from tests.calibration.varied import BASE, MEASURES, Variant, draw, seeded
from tests.camps import MPH

CAMPS_SEED, GAINS_SEED = 7181, 7182
COLUMNS = ("any", "pairs", "above", "spread", "next", "worst")


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """So many camps of so many athletes; `apart` is the SD between their true gains."""

    name: str
    camps: int
    athletes: int
    apart: float


# Whole camps: mph per week. Gains as the model gives them: in standard errors of a camp of 20.
WHOLE = (
    Program(name="4 equal camps of 15", camps=4, athletes=15, apart=0.0),
    Program(name="4 camps of 30 that differ (SD 0.3 mph a week)", camps=4, athletes=30, apart=0.3),
)
GAINS = (
    Program(name="3 equal camps, 8 to 30 athletes", camps=3, athletes=20, apart=0.0),
    Program(name="6 equal camps, 8 to 30 athletes", camps=6, athletes=20, apart=0.0),
    Program(name="12 equal camps, 8 to 30 athletes", camps=12, athletes=20, apart=0.0),
    Program(name="6 camps that differ as much as their errors", camps=6, athletes=20, apart=1.0),
    Program(name="6 camps that differ by 3 times their errors", camps=6, athletes=20, apart=3.0),
    Program(name="12 camps that differ as much as their errors", camps=12, athletes=20, apart=1.0),
)
OFFSET = 1.0  # standard error of an offset that half of the camps share, in the same unit


def of_gains(at: int, program: Program, programs: int) -> pd.DataFrame:
    """Normal gains with errors learned from few athletes; half the camps share an offset that is off."""
    rows = []
    for one in range(programs):
        rng, k = seeded(GAINS_SEED, at, one), program.camps
        athletes = rng.integers(8, 31, k)
        error = rng.uniform(0.7, 1.4, k) * np.sqrt(program.athletes / athletes)
        shared = np.where(np.arange(k) % 2 == 0, OFFSET, 0.0)
        true = rng.normal(0.0, program.apart, k) if program.apart else np.zeros(k)
        observed = true + rng.normal(0.0, error) + shared * rng.normal()
        own = error**2 * rng.chisquare(athletes - 1) / (athletes - 1)
        pairs = differences(observed, own, athletes - 1, shared[:, None])
        result = heterogeneity(observed, np.diag(own) + np.outer(shared, shared), degrees=athletes - 1)
        held = [p.low <= true[p.first] - true[p.second] <= p.high for p in pairs]
        rows.append((
            any(p.apart for p in pairs),
            all(held),
            result.spread_low > 0.0,
            result.spread_low <= program.apart <= result.spread_high,
            _chance_of_next(result.next_low, result.next_high, 0.0, program.apart),
            bool(pairs[_widest(true, pairs)].apart),
        ))
    return pd.DataFrame(rows, columns=COLUMNS)


def of_whole_camps(at: int, program: Program, programs: int) -> pd.DataFrame:
    """Camps of the base process, stays of 10 to 14 weeks, each camp's values tilted by its own slope."""
    planted, rows = population(0, BASE), []
    variant = Variant(name="", options={"n": program.athletes, "stay_weeks": (10, 14)})
    for one in range(programs):
        rng = seeded(CAMPS_SEED, at, one)
        slope = MPH * program.apart * rng.normal(size=program.camps)
        camps = [draw(rng, variant, camp_id=f"C{c}") for c in range(program.camps)]
        for camp, tilt in zip(camps, slope, strict=True):
            camp.session_values["value"] += tilt * camp.session_values["weeks"]
        values = pd.concat([c.session_values for c in camps], ignore_index=True)
        result = cohorts(values, pd.concat([c.stays for c in camps], ignore_index=True), MEASURES)
        (spread,) = result.spreads
        true = {f"C{c}": slope[c] * spread.weeks for c in range(program.camps)}
        apart = MPH * program.apart * spread.weeks
        mean = float(np.interp(7 * spread.weeks, np.arange(len(planted)), planted))
        gaps = [abs(true[p.camp_id] - true[p.other_id]) for p in result.pairs]
        rows.append((
            spread.n_apart > 0,
            all(p.low <= true[p.camp_id] - true[p.other_id] <= p.high for p in result.pairs),
            spread.spread_low > 0.0,
            spread.spread_low <= apart <= spread.spread_high,
            _chance_of_next(spread.next_low, spread.next_high, mean, apart),
            result.pairs[int(np.argmax(gaps))].verdict == "separated",
        ))
    return pd.DataFrame(rows, columns=COLUMNS)


def _widest(true: np.ndarray, pairs: tuple) -> int:
    return int(np.argmax([abs(true[p.first] - true[p.second]) for p in pairs]))


def _chance_of_next(low: float | None, high: float | None, mean: float, apart: float) -> float:
    """The chance that the true gain of one more camp lies inside."""
    if low is None or high is None:
        return float("nan")
    if apart == 0.0:
        return float(low <= mean <= high)
    return float(np.diff(stats.norm.cdf([low, high], mean, apart))[0])


def run_camps(size: float) -> Study:
    rows, claims = [], []
    for at, program in enumerate(GAINS):
        table = of_gains(at, program, max(60, round(2000 * size)))
        _sentence(program, table, "gains", rows, claims)
    for at, program in enumerate(WHOLE):
        table = of_whole_camps(at, program, max(5, round(120 * size)))
        _sentence(program, table, "whole camps", rows, claims)
    return Study(
        name="camps",
        question="Do camps differ, and which?",
        about="First on gains as the model hands them over (normal, standard errors learned from 8 to 30 athletes, "
        "half of the camps measured over one joining offset that is off by about a camp's error); then whole camps "
        "through `cohorts`. 'Largest pair' is the pair of camps whose true gains lie furthest apart. 'New camp': "
        "chance that one more camp's true gain lies in the interval given for it.",
        seeds=f"gains ({GAINS_SEED}, variant, program), whole camps ({CAMPS_SEED}, variant, program)",
        columns=(
            "program",
            "programs",
            "any pair called different",
            "all intervals of pairs hold",
            "spread's interval above zero",
            "spread's interval holds",
            "new camp",
            "largest pair separated",
        ),
        rows=rows,
        claims=claims,
    )


def _sentence(program: Program, table: pd.DataFrame, kind: str, rows: list, claims: list) -> None:
    each = np.arange(len(table))
    result = {name: share_of(table[name], each) for name in COLUMNS}
    given = table["next"].notna()
    result["next"] = share_of(table["next"][given], each[given])
    texts = [result[name].text() for name in COLUMNS]
    rows.append([f"{program.name} ({kind})", str(len(table)), *texts])
    name = f"{program.name}, {kind}"
    if program.apart == 0.0:
        claims.append(
            _claim("any", "equal camps: any pair called different at most 5 %", name, result, high=0.05)
        )
    claims.append(
        _claim("pairs", "intervals of all pairs hold together at least .95", name, result, low=0.95)
    )
    if program.apart:
        claims.append(
            _claim("spread", "interval of the spread holds it .92 to .98", name, result, 0.92, 0.98)
        )
        claims.append(_claim("next", "interval for a new camp holds it at least .90", name, result, low=0.90))


def _claim(
    key: str, text: str, name: str, found: dict[str, Estimate], low: float = -np.inf, high: float = np.inf
) -> Claim:
    return Claim(key=f"{key}: {name}", text=f"{text} ({name})", found=found[key], low=low, high=high)
