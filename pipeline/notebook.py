"""The published results of a data folder as pandas frames, for a notebook; `latewood.open` gives the handle.

Frames hold ids, never names or birth dates. They are read from the folder with the rights of whoever runs the
notebook, as on the command line: the roles of the screens do not bound them.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from difflib import get_close_matches
from pathlib import Path
from types import TracebackType
from typing import Final, Literal

import duckdb
import pandas as pd

from latewood.pipeline.catalogue.units import display_unit, linear
from latewood.pipeline.errors import NotebookError
from latewood.pipeline.warehouse.connection import open_published, read_sql

Units = Literal["metric", "us"]
Asked = str | Sequence[str] | None

# Which columns of a frame are in the row's own unit, and which in that unit a week.
_IN_UNIT: Final = {
    "trends": (
        *("first_value", "last_value", "fitted_start", "change", "low", "high"),
        *("sized_change", "sized_low", "sized_high"),
    ),
    "readings": ("value",),
    "gains": (
        "gain",
        "low",
        "high",
        "shrunk_gain",
        "shrunk_low",
        "shrunk_high",
        "as_measured",
        "as_measured_low",
        "as_measured_high",
        "raw_gain",
        "raw_low",
        "raw_high",
        "spread",
    ),
}
_PER_WEEK: Final = {"trends": ("rate_per_week", "rate_low", "rate_high")}


class Notebook:
    """A read-only handle on the build that was published when it was opened; a later build needs a new handle.

    Every frame states its units: the column `unit` holds that of the row's values, `attrs["units"]` the system that
    was asked for, `attrs["unit_of"]` what each column is in, and `attrs["build_id"]` the build it came from.
    """

    def __init__(self, folder: Path, connection: duckdb.DuckDBPyConnection) -> None:
        self.folder = folder
        self._connection = connection
        self.build_id = str(self._rows("select build_id from build_log")[0])

    def __enter__(self) -> Notebook:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __repr__(self) -> str:
        return f"<latewood build {self.build_id[:12]} of {self.folder.name}>"

    def close(self) -> None:
        """Let go of the build's file; the handle reads nothing after it."""
        self._connection.close()

    def measures(self, *, units: Units = "metric") -> pd.DataFrame:
        """One row a measure: key, label, family, better, kind, and the unit its values come in.

        >>> import latewood
        >>> with latewood.open(folder) as camp:
        ...     known = camp.measures(units="us").set_index("measure")
        >>> known.loc["body_mass", "unit"], known.loc["exit_speed", "unit"]
        ('lb', 'mph')
        """
        return self._frame("measures", {}, units)

    def trends(
        self, measure: Asked = None, athlete: Asked = None, camp: Asked = None, *, units: Units = "metric"
    ) -> pd.DataFrame:
        """One row per athlete's stay, measure and line: what changed, its interval and the verdict.

        `change` with `low` and `high` (95 %) is the athlete's own line over the stay, which the verdict rests on;
        `sized_change` is the same shrunk towards the camp. Rates are per week. Each filter takes one key or several;
        NotebookError where one is not known.

        >>> import latewood
        >>> with latewood.open(folder) as camp:
        ...     found = camp.trends("exit_speed", athlete="T1", units="us")
        >>> found[["stay_id", "n_sessions", "change", "unit", "verdict"]].round(1).to_dict("records")
        [{'stay_id': 'T1@K', 'n_sessions': 5, 'change': 3.0, 'unit': 'mph', 'verdict': 'not clear yet'}]
        >>> found.attrs["unit_of"]["rate_per_week"]
        'unit per week'
        """
        return self._frame("trends", {"measure": measure, "athlete": athlete, "camp": camp}, units)

    def readings(
        self, measure: Asked = None, athlete: Asked = None, camp: Asked = None, *, units: Units = "metric"
    ) -> pd.DataFrame:
        """One row per accepted value of a trial, beside the text of the file and the row it came from.

        `set_aside` marks values taken under a condition that keeps them out of the statistics. A camp has the
        readings within its stays. Coaches' ratings are no numbers and are not among them.

        >>> import latewood
        >>> with latewood.open(folder) as camp:
        ...     metric, us = (camp.readings("body_mass", camp="L", units=u) for u in ("metric", "us"))
        >>> len(metric), metric.loc[0, "value"].item(), us.loc[0, "value"].round(2).item(), us.loc[0, "unit"]
        (10, 72.0, 158.73, 'lb')
        """
        return self._frame("readings", {"measure": measure, "athlete": athlete, "camp": camp}, units)

    def gains(self, measure: Asked = None, camp: Asked = None, *, units: Units = "metric") -> pd.DataFrame:
        """One row per camp, measure and line: what the camp gained, with its interval, or why none is given.

        >>> import latewood
        >>> with latewood.open(folder) as camp:
        ...     found = camp.gains("exit_speed", camp="K")
        >>> found.loc[0, "verdict"], found.loc[0, "n_measured"].item(), found["gain"].isna().item()
        ('refused', 2, True)
        """
        return self._frame("gains", {"measure": measure, "camp": camp}, units)

    def _frame(self, name: str, asked: dict[str, Asked], units: Units) -> pd.DataFrame:
        display_unit("kg", units)  # refuses an unknown system before anything is read
        filters = {f"{kind}s": self._known(kind, value) for kind, value in asked.items()}
        result = self._connection.execute(read_sql(f"read/notebook_{name}.sql"), filters or None).df()
        return self._in_units(name, result, units)

    def _known(self, kind: str, asked: Asked) -> list[str] | None:
        """The keys that were asked for; None for all."""
        if asked is None:
            return None
        wanted = [asked] if isinstance(asked, str) else [str(one) for one in asked]
        known = self._rows(f"select {kind if kind == 'measure' else kind + '_id'} from {kind} order by 1")  # noqa: S608  names of ours
        for one in wanted:
            if one not in known:
                raise NotebookError(f"{kind}: unknown (got '{one}'; {_hint(one, known)})")
        return wanted

    def _rows(self, sql: str) -> list[str]:
        return [str(value) for (value,) in self._connection.execute(sql).fetchall()]

    def _in_units(self, name: str, frame: pd.DataFrame, units: Units) -> pd.DataFrame:
        columns, rates = _IN_UNIT.get(name, ()), _PER_WEEK.get(name, ())
        known = frame["unit"].unique()
        factors = frame["unit"].map({unit: linear(unit, display_unit(unit, units)) for unit in known})
        for column in (*columns, *rates):
            frame[column] = frame[column] * factors.astype(float)
        frame["unit"] = frame["unit"].map({unit: display_unit(unit, units) for unit in known})
        frame.attrs["units"] = units
        frame.attrs["build_id"] = self.build_id
        frame.attrs["unit_of"] = {
            **dict.fromkeys(columns, "unit"),
            **dict.fromkeys(rates, "unit per week"),
            **({"weeks": "weeks"} if "weeks" in frame else {}),
        }
        return frame


def open_notebook(folder: str | Path) -> Notebook:
    """A handle on the published build of a data folder; see `latewood.open`."""
    root = Path(folder).expanduser().absolute()
    if not root.is_dir():
        raise NotebookError(f"{root}: is no folder; give the data folder that `latewood build` was run on")
    return Notebook(root, open_published(root))


def _hint(asked: str, known: Collection[str]) -> str:
    close = get_close_matches(asked, known, n=3)
    return (
        f"near it: {', '.join(close)}; choose one of them" if close else "nothing is near it; correct the key"
    )
