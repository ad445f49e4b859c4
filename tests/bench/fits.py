"""The trend fit from sums beside statsmodels and R's lme4: seconds, and how far apart the coefficients are.

Called by `python -m tests.bench.speed`. The model is the one of a line's trend: level and rate of each athlete
random, the intake day with a term of its own, by REML without penalty, so that all three answer the same question.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import time
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import duckdb
import numpy as np
import pandas as pd
import statsmodels.api as sm
from statsmodels.tools.sm_exceptions import ConvergenceWarning

from latewood.pipeline.warehouse.stay_sums import TABLE, DuckEngine, line_fits, stay_sums

SESSIONS: Final = 12
STATSMODELS_UP_TO: Final = 10_000  # athletes; beyond, one fit takes many minutes
PATIENCE: Final = 600.0  # seconds that R may take
AGREE: Final = 1e-5  # of coefficients, relative to the session SD
LME4: Final = """
suppressPackageStartupMessages(library(lme4))
table <- read.csv(commandArgs(trailingOnly = TRUE)[1], colClasses = c(stay = "character"))
took <- system.time(fit <- lmer(y ~ t + i + (1 + t | stay), data = table, REML = TRUE, control = lmerControl(
  optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10), calc.derivs = FALSE)))[["elapsed"]]
cat(sprintf("%.15g", c(took, fixef(fit))))
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """Seconds of one size; None where one was not tried or is not there. `apart` are distances of coefficients."""

    athletes: int
    sums: float
    fit: float
    statsmodels: float | None
    lme4: float | None
    apart: float | None


def sessions(athletes: int) -> pd.DataFrame:
    """Invented sessions, twelve an athlete: stay, t (weeks), i (intake day), y."""
    rng = np.random.default_rng([20330613, athletes])
    # days of their own, so that coefficients hang on the variances and references can disagree
    week = np.arange(SESSIONS) * 0.9 + np.where(
        np.arange(SESSIONS) > 0, rng.integers(0, 5, (athletes, SESSIONS)) / 7, 0.0
    )
    level, rate = rng.normal(76.0, 4.0, (athletes, 1)), rng.normal(0.4, 0.15, (athletes, 1))
    value = level + rate * week - 0.8 * (week == 0.0) + rng.normal(0.0, 1.0, (athletes, SESSIONS))
    return pd.DataFrame({
        "stay": np.repeat([f"S{k:06d}" for k in range(athletes)], SESSIONS),
        "t": week.ravel(),
        "i": (week == 0.0).astype(float).ravel(),
        "y": value.ravel(),
    })


def measure_fit(athletes: int) -> Fitted:
    """The fit of so many invented athletes, as `fit_sessions` measures it."""
    return fit_sessions(sessions(athletes))


def fit_sessions(table: pd.DataFrame) -> Fitted:
    """Sums in SQL, the fit from them, and both references where they can be had; raises ValueError if they differ."""
    athletes = int(table["stay"].nunique())
    with duckdb.connect() as connection:
        connection.from_df(_trials(table)).create(TABLE)
        began = time.monotonic()
        rows = stay_sums(DuckEngine(connection=connection))
    summed = time.monotonic()
    (line,) = line_fits(rows, penalised=False)
    fitted = time.monotonic()
    # the fit's time and value are centred; back to the references' scale
    ours = np.array([
        line.mean_value + line.fit.beta[0] - line.rate * line.mean_weeks,
        line.rate,
        line.intake,
    ])
    references = [_statsmodels(table) if athletes <= STATSMODELS_UP_TO else None, _lme4(table)]
    apart = max(
        (float(np.max(np.abs(ours - one[1]))) / line.fit.sigma for one in references if one), default=None
    )
    if apart is not None and apart > AGREE:
        raise ValueError(f"{athletes} athletes: coefficients are {apart:.1e} session SD apart")
    return Fitted(
        athletes=athletes,
        sums=summed - began,
        fit=fitted - summed,
        statsmodels=references[0][0] if references[0] else None,
        lme4=references[1][0] if references[1] else None,
        apart=apart,
    )


def _trials(table: pd.DataFrame) -> pd.DataFrame:
    """The sessions as trial values, one a session."""
    return pd.DataFrame({
        "measure": "speed", "line": "a", "stay_id": table["stay"], "day": (table["t"] * 7).round().astype(int),
        "weeks": table["t"], "is_intake": table["i"] == 1.0, "summary": "mean", "keep": 1, "better": "higher",
        "value": table["y"],
    })  # fmt: skip


def _statsmodels(table: pd.DataFrame) -> tuple[float, np.ndarray] | None:
    fixed = np.column_stack([np.ones(len(table)), table["t"], table["i"]])
    model = sm.MixedLM(table["y"].to_numpy(), fixed, groups=table["stay"].to_numpy(), exog_re=fixed[:, :2])
    began = time.monotonic()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)  # how far its answer is from ours is what counts
        result = model.fit(reml=True, method="bfgs", gtol=1e-8)
    return time.monotonic() - began, np.asarray(result.fe_params)


def _lme4(table: pd.DataFrame) -> tuple[float, np.ndarray] | None:
    program = shutil.which("Rscript")
    if program is None:
        return None
    with tempfile.TemporaryDirectory(prefix="latewood-lme4-") as scratch:
        data, script = Path(scratch) / "table.csv", Path(scratch) / "fit.R"
        table.to_csv(data, index=False, float_format="%.17g")
        script.write_text(LME4, encoding="utf-8")
        try:
            words = subprocess.run(
                [program, str(script), str(data)],
                capture_output=True, text=True, timeout=PATIENCE, check=False,
            )  # fmt: skip
        except subprocess.TimeoutExpired:
            return None
    numbers = np.array(words.stdout.split(), dtype=float) if words.returncode == 0 else np.empty(0)
    return (float(numbers[0]), numbers[1:]) if len(numbers) == 4 else None  # no lme4: no figure
