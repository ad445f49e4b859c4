"""The mixed model of each line from sums per stay that an engine has added up: one row a stay reaches Python."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import duckdb
import numpy as np
import pandas as pd

from latewood.pipeline.errors import EngineError
from latewood.pipeline.stats.engine.line_models import FEWEST_STAYS
from latewood.pipeline.stats.engine.mixed import MixedFit, fit_sums
from latewood.pipeline.stats.engine.mixed_products import sums_of_products
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.warehouse.session_rule import portable

KEYS: Final = "measure, line, stay_id, day"
TABLE: Final = "trial_value"
_COLUMNS: Final = (
    ("n", "st", "si", "sy"),
    ("st", "stt", "sti", "sty"),
    ("si", "sti", "sii", "siy"),
    ("sy", "sty", "siy", "syy"),
)


class Engine(Protocol):
    """Anything that runs the statement over its own table trial_value."""

    def rows(self, statement: str) -> pd.DataFrame:
        """The rows of a statement."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class DuckEngine:
    """The engine that is always there; `connection` has a table or view trial_value."""

    connection: duckdb.DuckDBPyConnection

    def rows(self, statement: str) -> pd.DataFrame:
        """The rows of a statement; raises EngineError where the table is another one."""
        try:
            return self.connection.execute(statement).df()
        except duckdb.Error as error:
            raise unreadable("the table of trials", error) from error


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFit:
    """The model of one line: value on time and the intake day, level and rate of each stay random.

    A straight line over all camps. The fit's time and value are centred: `mean_weeks` and `mean_value` are what
    was taken off. Values are in the measure's canonical unit.
    """

    measure: str
    line: str
    mean_weeks: float
    mean_value: float
    intake_term: bool
    fit: MixedFit

    @property
    def rate(self) -> float:
        """What a stay gains in a week on average."""
        return float(self.fit.beta[1])

    @property
    def rate_se(self) -> float:
        """Standard error of the rate: the model's, or that of the spread of the stays' own scores if larger."""
        fit = self.fit
        robust = float(fit.robust_cov()[1, 1]) * fit.n_groups / (fit.n_groups - 1.0)
        return float(np.sqrt(max(float(fit.beta_cov[1, 1]), robust)))

    @property
    def intake(self) -> float | None:
        """What everybody lacks on the intake day; None where it has no term."""
        return float(self.fit.beta[2]) if self.intake_term else None

    def rates(self) -> Floats:
        """What each stay gains in a week (k,), in the order of `fit.index`."""
        return np.asarray(self.rate + self.fit.effects[:, 1])


def unreadable(folder: str, error: Exception) -> EngineError:
    """The error of a folder that cannot be read as trial values."""
    reported = str(error).strip().splitlines() or [type(error).__name__]
    return EngineError(
        f"{folder}: cannot be read as trial values ({reported[0]}); write it with `latewood trials --out FOLDER`"
    )


def stay_sums(engine: Engine) -> pd.DataFrame:
    """The sums of the engine's trial values, one row a line and stay, in the same order whatever the engine."""
    rows = engine.rows(portable("stay_sums", KEYS))
    return rows.sort_values(["measure", "line", "stay_id"], kind="stable").reset_index(drop=True)


def line_fits(sums: pd.DataFrame, *, penalised: bool = True) -> tuple[LineFit, ...]:
    """The model of every line of the sums, by the same rules as the main path's.

    Lines with fewer than eight stays tested twice, without spread, or without a trend to tell are left out.
    """
    result: list[LineFit] = []
    for _, rows in sums.groupby(["measure", "line"], sort=True):
        result += _line_fit(rows, penalised)
    return tuple(result)


def _line_fit(rows: pd.DataFrame, penalised: bool) -> Iterator[LineFit]:
    if _tested(rows, 2) < FEWEST_STAYS or not float(rows["syy"].sum()) > 0.0:
        return
    # without two later sessions the intake day can only be told from gain by extrapolation
    for intake in (True, False) if _tested(rows, 3) >= FEWEST_STAYS else (False,):
        try:
            sums = sums_of_products(list(rows["stay_id"]), _products(rows, intake=intake), n_random=2)
        except ValueError:
            continue
        yield LineFit(
            measure=str(rows["measure"].iloc[0]),
            line=str(rows["line"].iloc[0]),
            mean_weeks=float(rows["mean_weeks"].iloc[0]),
            mean_value=float(rows["mean_value"].iloc[0]),
            intake_term=intake,
            fit=fit_sums(sums, penalised=penalised),
        )
        return


def _tested(rows: pd.DataFrame, times: int) -> int:
    return int((rows["n"] >= times).sum())


def _products(rows: pd.DataFrame, *, intake: bool) -> Floats:
    """Products (G, p+1, p+1) of [1 | t | intake day | y]."""
    kept: Sequence[int] = (0, 1, 2, 3) if intake else (0, 1, 3)
    table = {name: rows[name].to_numpy(dtype=float) for line in _COLUMNS for name in line}
    full = np.array([[table[name] for name in line] for line in _COLUMNS])
    return np.ascontiguousarray(np.moveaxis(full[np.ix_(kept, kept)], -1, 0))
