"""Projections of the second half of running stays, against the last value and each athlete's own line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from latewood.pipeline.stats.projection.expected import projections
from latewood.pipeline.stats.projection.fit import gaussian_crps
from latewood.pipeline.stats.projection.mass import PlannedMass
from tests.calibration.outcome import Claim, Estimate, Study, mean_of, share_of
from tests.calibration.varied import (
    BASE,
    FEW,
    HEAVY,
    IRREGULAR,
    LOWER,
    MEASURES,
    NOBODY,
    TRAVEL,
    Variant,
    as_frame,
    draw,
    fresh_session,
    seeded,
)
from tests.camps import Camp, join_camps

PROJECTION_SEED = 7141
NO_PLANS = PlannedMass(
    plans=pd.DataFrame(
        columns=["plan_id", "version", "athlete_id", "stay_id", "start_on", "target_kg", "ended_on"]
    )
)
Z95 = 1.959964
CASES = (
    (BASE, 60, 30),
    (FEW, 60, 40),
    (BASE, 0, 20),
    (FEW, 0, 40),
    (NOBODY, 60, 12),
    (LOWER, 60, 12),
    (HEAVY, 60, 12),
    (IRREGULAR, 60, 12),
    (TRAVEL, 60, 12),
)


def program(rng: np.random.Generator, variant: Variant, past: int) -> Camp:
    """The running camp, after one that is over where there is a past."""
    new = draw(rng, variant, camp_id="NEW")
    return join_camps(draw(rng, variant, n=past, camp_id="OLD"), new) if past else new


def half_observed(camp: Camp) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Sessions up to the middle of each running stay; the exit planned is the one that came."""
    values = camp.session_values
    length = camp.truth.set_index("stay_id")["last_day"].reindex(values["stay_id"]).to_numpy()
    observed = values[(values["camp_id"] != "NEW") | (values["weeks"] * 14 <= length)]
    there = camp.stays["camp_id"] == "NEW"
    stays = camp.stays.assign(left_on=camp.stays["left_on"].mask(there), planned_until=camp.stays["left_on"])
    return observed, stays


def rivals(
    seen: pd.DataFrame, rows: pd.DataFrame, weeks: np.ndarray, pooled: float
) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Mean and SD of 'last value' and of the own straight line; the line's noise is pooled over stays."""
    grouped = seen.sort_values("weeks", kind="stable").groupby("stay_id")
    last = grouped["value"].last().reindex(rows["stay_id"]).to_numpy()
    names = pd.Index(sorted(set(seen["stay_id"])))
    codes, t = names.get_indexer(seen["stay_id"]), seen["weeks"].to_numpy(dtype=float)
    y, k = seen["value"].to_numpy(dtype=float), len(names)
    n = np.bincount(codes, minlength=k)
    middle, level = np.bincount(codes, t, k) / n, np.bincount(codes, y, k) / n
    off = t - middle[codes]
    spread = np.maximum(np.bincount(codes, off * off, k), 1e-12)
    slope = np.bincount(codes, off * y, k) / spread
    at = names.get_indexer(rows["stay_id"])
    ahead = weeks - middle[at]
    return {
        "last value": (last, np.full(len(rows), np.nan)),
        "own line": (level[at] + slope[at] * ahead, pooled * np.sqrt(1 + 1 / n[at] + ahead**2 / spread[at])),
    }


def pooled_noise(seen: pd.DataFrame) -> float:
    """Residual SD around own straight lines, pooled over stays with three sessions."""
    part = seen[seen.groupby("stay_id")["value"].transform("size") >= 3]
    codes, names = pd.factorize(part["stay_id"])
    t, y = part["weeks"].to_numpy(dtype=float), part["value"].to_numpy(dtype=float)
    n = np.bincount(codes)
    off, rest = t - (np.bincount(codes, t) / n)[codes], y - (np.bincount(codes, y) / n)[codes]
    slope = np.bincount(codes, off * rest) / np.maximum(np.bincount(codes, off * off), 1e-12)
    rest = rest - slope[codes] * off
    return float(np.sqrt(rest @ rest / max(len(rest) - 2 * len(names), 1)))


def scored(table: pd.DataFrame) -> pd.DataFrame:
    """CRPS of the three forecasts, each taken as normal; 'last value' gets the SD of its own errors."""
    table = table.astype({c: float for c in ("value", "low", "high", "came", "last", "line", "line_sd")})
    sd_last = float(np.sqrt(np.mean((table["came"] - table["last"]) ** 2)))
    came = table["came"].to_numpy()
    sd = (table["high"] - table["low"]).to_numpy(dtype=float) / (2 * Z95)
    return table.assign(
        crps=gaussian_crps(came, table["value"].to_numpy(dtype=float), sd),
        crps_last=gaussian_crps(came, table["last"].to_numpy(), np.full(len(came), sd_last)),
        crps_line=gaussian_crps(came, table["line"].to_numpy(), table["line_sd"].to_numpy()),
        held=(table["low"] <= came) & (came <= table["high"]),
        line_held=np.abs(came - table["line"]) <= Z95 * table["line_sd"],
    )


def _one(rng: np.random.Generator, variant: Variant, past: int, k: int) -> tuple[pd.DataFrame, int]:
    camp = program(rng, variant, past)
    observed, stays = half_observed(camp)
    result = as_frame(projections(observed, stays, NO_PLANS, MEASURES))
    result = result[(result["kind"] == "date") & result["stay_id"].str.contains("NEW")]
    rows = result[result["verdict"] == "shown"].reset_index(drop=True)
    arrival = pd.to_datetime(camp.truth.set_index("stay_id")["arrival"].reindex(rows["stay_id"])).to_numpy()
    days = ((pd.to_datetime(rows["target_on"]).to_numpy() - arrival) / np.timedelta64(1, "D")).astype(int)
    came = fresh_session(rng, variant, camp, rows["stay_id"], days)
    other = rivals(observed, rows, days / 7.0, pooled_noise(observed))
    line, line_sd = other["own line"]
    words = rows.assign(came=came, last=other["last value"][0], line=line, line_sd=line_sd, camp=k)
    return words, len(result) - len(rows)


def _ratio(table: pd.DataFrame, top: str, bottom: str) -> Estimate:
    value = float(table[top].mean() / table[bottom].mean())
    rest = mean_of((table[top] - value * table[bottom]) / table[bottom].mean(), table["camp"])
    return Estimate(value=value, error=rest.error, n=rest.n, n_camps=rest.n_camps)


def run_projection(size: float, cases: Sequence[tuple[Variant, int, int]] = CASES) -> Study:
    rows, claims = [], []
    for at, (variant, past, full) in enumerate(cases):
        programs = max(5, round(full * size))
        parts = [_one(seeded(PROJECTION_SEED, at, k), variant, past, k) for k in range(programs)]
        name = f"{variant.name}, " + (f"{past} past athletes" if past else "no past camps")
        refused = sum(r for _, r in parts)
        table = pd.concat([t for t, _ in parts], ignore_index=True)
        table = scored(table) if len(table) else table
        if table.empty:
            rows.append([name, f"{programs} / 0 / {refused}", *["–"] * 7])
            continue
        held, ratio = share_of(table["held"], table["camp"]), _ratio(table, "crps", "crps_last")
        unit = variant.unit
        bias = mean_of((table["value"].astype(float) - table["came"]) / unit, table["camp"])
        rows.append([
            name,
            f"{programs} / {len(table)} / {refused}",
            held.text(),
            bias.text(),
            f"{(table['high'] - table['low']).astype(float).mean() / unit:.3f}",
            *[f"{table[c].mean() / unit:.3f}" for c in ("crps", "crps_last", "crps_line")],
            ratio.text(),
        ])
        claims.append(
            Claim(
                key=f"projection coverage: {name}",
                text=f"projection holds a new session .92 to .98 ({name})",
                found=held,
                low=0.92,
                high=0.98,
            )
        )
        if past:
            claims.append(
                Claim(
                    key=f"projection score: {name}",
                    text=f"CRPS below .85 of 'last value' ({name})",
                    found=ratio,
                    high=0.85,
                )
            )
    return Study(
        name="projection",
        question="What will they show in four weeks and at the exit?",
        about="A running camp of which half of each stay was seen (`projections`, one line, exit and four "
        "weeks ahead), against a new session drawn on that day. CRPS in mph (s for times): small is good.",
        seeds=f"({PROJECTION_SEED}, case 0–{len(cases) - 1}, program 0…)",
        columns=(
            "case (mph; times in s)",
            "programs / shown / refused",
            "coverage",
            "bias",
            "width",
            "CRPS",
            "last value",
            "own line",
            "CRPS ÷ last value",
        ),
        rows=rows,
        claims=claims,
        notes=(
            "'Last value' is given the SD of its own errors in that very table, which favours it; the own line "
            "has pooled noise and the usual prediction error. Projections count as normal with the SD of their "
            "interval.",
        ),
    )
