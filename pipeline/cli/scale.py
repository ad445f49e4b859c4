"""The verbs of the command line for work past one machine: trials out as Parquet, lines from such a folder."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from rich.table import Table

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.cli.common import Data, Who, console, user
from latewood.pipeline.errors import EngineError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.program import data_dir, program_catalogue
from latewood.pipeline.warehouse.connection import open_published, read_sql
from latewood.pipeline.warehouse.session_summary import Summarise, by_engine, in_place
from latewood.pipeline.warehouse.spark_engine import spark_engine
from latewood.pipeline.warehouse.stay_sums import Engine, LineFit, line_fits, stay_sums
from latewood.pipeline.warehouse.trial_files import check_free, duck_engine, write_trial_files

ENGINES: Final = ("duckdb", "spark")
HEADS: Final = (
    *("measure", "line", "unit", "stays", "sessions", "rate_per_week", "standard_error", "intake_day"),
    *("rate_sd_between_stays", "session_sd", "reml_deviance"),
)
INSIDE: Final = (
    "They hold ids of stays, no names, birth dates or body mass; still, they are values of minors: "
    "keep them within the program."
)
FORM: Final = (
    "One straight line in time per measure and line, over all camps of the folder. The screens' models "
    "average several forms of time, camp by camp, and are not fitted here."
)


EngineName = Annotated[
    str, typer.Option("--engine", help="duckdb or spark: what adds trials up, outside the warehouse.")
]
Master = Annotated[str, typer.Option("--master", help="Spark only: where it runs.")]


def summarise(engine: str, master: str, between: Path | None) -> Summarise:
    """How a build makes session values: inside the warehouse where no engine is named."""
    if not engine:
        return in_place
    if engine not in ENGINES:
        raise EngineError(f"engine {engine!r} is not one of {', '.join(ENGINES)}")
    return by_engine(lambda folder: _opened(engine, folder, master), between, name=engine)


def trials(
    out: Annotated[Path, typer.Option(help="Folder for the files; empty, or not there yet.")],
    by: Who = "",
    data: Data = None,
) -> None:
    """Write the trial values of the published build as Parquet, in parts by camp and month."""
    root = data_dir(data)
    check_free(out)
    with open_published(root) as connection:
        build_id = str((connection.execute(read_sql("read/build.sql")).fetchone() or ("",))[0])
        audit.append(root, "export", by or user(), {"what": "trial values", "build": build_id})
        written = write_trial_files(connection, out)
    console.print(f"{written:,} trial values in {out}, in parts by camp and month. {INSIDE}")


def lines(
    from_: Annotated[
        str, typer.Option("--from", help="Folder that `latewood trials` wrote, or its address.")
    ],
    engine: EngineName = "duckdb",
    master: Master = "local[2]",
    out: Annotated[Path | None, typer.Option(help="Also write them as CSV; never over a file.")] = None,
    data: Data = None,
) -> None:
    """Fit each line from sums per stay that the engine adds up: average rate, spread of rates, intake day."""
    with _opened(engine, from_, master) as opened:
        sums = stay_sums(opened)
    fits = line_fits(sums)
    units = _units(data)
    rows = [_row(fit, units.get(fit.measure, "")) for fit in fits]
    if out is not None:
        _write_csv(out, rows)
    console.print(_table(rows))
    reported = sums.groupby(["measure", "line"]).ngroups
    console.print(
        f"{len(fits)} of {reported} lines can be said; {len(sums):,} sums per stay added up by {engine}."
    )
    console.print(FORM)


@contextmanager
def _opened(engine: str, folder: str, master: str) -> Iterator[Engine]:
    if engine == "duckdb":
        with duck_engine(folder) as opened:
            yield opened
    elif engine == "spark":
        with spark_engine(folder, master) as started:
            yield started
    else:
        raise EngineError(f"engine {engine!r} is not one of {', '.join(ENGINES)}")


def _units(data: Path | None) -> dict[str, str]:
    root = data_dir(data)
    catalogue = program_catalogue(root) if root.is_dir() else load_catalogue()
    return {key: measure.unit for key, measure in catalogue.measures.items()}


def _row(line: LineFit, unit: str) -> tuple[str | int | float | None, ...]:
    fit = line.fit
    spread = float(fit.random_cov[1, 1]) ** 0.5
    return (
        *(line.measure, line.line, unit, fit.n_groups, fit.n_rows, line.rate, line.rate_se, line.intake),
        *(spread, fit.sigma, fit.criterion),
    )


def _write_csv(out: Path, rows: Sequence[tuple[Any, ...]]) -> None:
    try:
        with out.open("x", newline="", encoding="utf-8") as stream:
            csv.writer(stream).writerows([HEADS, *rows])
    except OSError as error:
        raise EngineError(
            f"{out}: cannot be written ({error.strerror}); give another file with --out"
        ) from error


def _table(rows: Sequence[tuple[Any, ...]]) -> Table:
    table = Table(
        "measure", "line", "stays", "sessions", "per week", "intake day", "rates differ by (SD)", "session SD"
    )
    for measure, line, unit, stays, sessions, rate, error, intake, spread, noise, _ in rows:
        table.add_row(
            *(
                measure,
                line,
                f"{stays:,}",
                f"{sessions:,}",
                f"{rate:+.4f} ± {1.96 * error:.4f}" + (f" {unit}" if unit != "1" else ""),
            ),
            *("" if intake is None else f"{intake:+.3f}", f"{spread:.4f}", f"{noise:.3f}"),
        )
    return table
