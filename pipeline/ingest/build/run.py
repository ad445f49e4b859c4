"""Builds the warehouse from landing, catalogue and decisions into a new file, then publishes it at once."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb
import pandas as pd

from latewood.pipeline import durable
from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import BuildError, BusyError, LatewoodError, NothingPublishedError, StorageError
from latewood.pipeline.ingest.build.drawn import save_start_draws
from latewood.pipeline.ingest.build.provenance import save_provenance
from latewood.pipeline.ingest.build.stage import files_read, stage_people, stage_readings
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.inputs import Inputs, read_inputs
from latewood.pipeline.ingest.logs import build_notes
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.plans.plan_decisions import save_plan_decisions
from latewood.pipeline.stats.plans.rules import PlanSettings
from latewood.pipeline.warehouse.accounts import check_accounts
from latewood.pipeline.warehouse.ahead import working_ahead
from latewood.pipeline.warehouse.check import run_checks
from latewood.pipeline.warehouse.connection import (
    POINTER,
    insert_frame,
    open_new,
    open_read_only,
    published_path,
    read_sql,
)
from latewood.pipeline.warehouse.memo import memo_of
from latewood.pipeline.warehouse.packed import plain_texts
from latewood.pipeline.warehouse.plan_holds import hold_plans
from latewood.pipeline.warehouse.results import (
    BuildUnderWay,
    fit_mass,
    read_frames,
    run_results,
    working_beside,
)
from latewood.pipeline.warehouse.session_summary import Summarise, in_place

BUILDING = ".building-"
KEPT_BUILDS = 2
LOCK_SECONDS = 60.0
Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildSummary:
    """What one build did."""

    build_id: str
    seconds: float
    unchanged: bool
    imports: int
    readings: int
    held: int
    athletes: int


def build(
    root: Path,
    progress: Progress | None = None,
    *,
    fresh: bool = False,
    wait: float = LOCK_SECONDS,
    summarise: Summarise = in_place,
) -> BuildSummary:
    """Make and publish the warehouse of a data folder; nothing to do where its inputs did not change.

    `summarise` makes session values out of trials: here, or on an engine past this machine.

    A second build waits for the first. Raises BuildError, or the error of the input that is wrong; the
    published build stays as it is until the new one is whole.
    """
    folder = root / "warehouse"
    try:
        with durable.locked(folder / "build.lock", wait), build_notes.noted(root), plain_texts():
            return _build_locked(root, folder, progress or (lambda _: None), fresh=fresh, summarise=summarise)
    except BusyError as error:
        raise BuildError(
            f"another build has been running for {wait:.0f} s; try again when it is done"
        ) from error
    except duckdb.Error as error:
        raise BuildError(f"the build failed and nothing was published: {error}") from error
    except (OSError, StorageError) as error:
        reported = durable.storage_error(folder, error) if isinstance(error, OSError) else error
        raise BuildError(f"nothing was published: {reported}") from error


def _build_locked(
    root: Path, folder: Path, progress: Progress, *, fresh: bool, summarise: Summarise
) -> BuildSummary:
    started = time.monotonic()
    inputs = read_inputs(root)
    if not fresh and _is_published(root, inputs.build_id):
        return _summary(published_path(root), inputs, time.monotonic() - started, unchanged=True)
    _sweep(folder)
    new = folder / f"{BUILDING}{inputs.build_id}-{os.getpid()}.duckdb"
    memo = memo_of(root, inputs.code_version, inputs.catalogue.digest, reads=not fresh)
    size = sum(one.size for one in files_read(inputs))
    try:
        with working_ahead(root, memo, size) as other, open_new(new) as connection:
            opened = BuildUnderWay(
                connection=connection, build_id=inputs.build_id, progress=progress, memo=memo, other=other
            )
            fill(opened, root, inputs, summarise)
            _log(connection, inputs, time.monotonic() - started)
            progress("publishing")
            connection.execute("checkpoint")
        name = _free_name(folder, inputs.build_id)
        new.replace(folder / name)
        durable.force_folder(folder)
        durable.write_atomically(folder / POINTER, f"{name}\n".encode())
    finally:
        _sweep(folder)
    _prune(folder, name)
    memo.prune()
    return _summary(folder / name, inputs, time.monotonic() - started, unchanged=False)


def _sweep(folder: Path) -> None:
    """Delete what a build left unfinished, with the folders that DuckDB spills into; the build lock is held."""
    for remainder in (*folder.glob(f"{BUILDING}*"), *folder.glob(f".*{durable.UNFINISHED}")):
        if remainder.is_dir():
            shutil.rmtree(remainder, ignore_errors=True)
        else:
            remainder.unlink(missing_ok=True)


def _is_published(root: Path, build_id: str) -> bool:
    """Whether the build of these inputs is published and can be read; a damaged one is made again."""
    try:
        path = published_path(root)
        if path.name.startswith(f"build-{build_id}"):
            open_read_only(path).close()
            return True
    except (NothingPublishedError, BuildError):
        pass
    return False


def _free_name(folder: Path, build_id: str) -> str:
    """A name not in use: a reader of this process may still hold the older file of the same id."""
    for attempt in range(1000):
        name = f"build-{build_id}-{attempt}.duckdb"
        if not (folder / name).exists():
            return name
    raise BuildError("the warehouse folder is full of builds of the same id; delete the older ones")


def _prune(folder: Path, current: str) -> None:
    builds = sorted(folder.glob("build-*.duckdb"), key=lambda p: p.stat().st_mtime, reverse=True)
    for old in [b for b in builds if b.name != current][KEPT_BUILDS - 1 :]:
        old.unlink(missing_ok=True)


def fill(opened: BuildUnderWay, root: Path, inputs: Inputs, summarise: Summarise = in_place) -> None:
    """Fill every table but the build log, in the order in which they depend on each other."""
    connection, progress = opened.connection, opened.progress
    withdrawn = decided.withdrawn_imports(list(inputs.decisions))
    active = [m for m in inputs.imports if m.import_id not in withdrawn]
    fill_rows(opened, root, inputs, active, summarise)
    progress("body mass")
    frames = read_frames(connection, inputs.catalogue)
    with working_beside(opened, frames) as give:
        mass = fit_mass(connection)
        hold_plans(connection, mass.fit.trend, decided.row_decisions(list(inputs.decisions)))
        save_provenance(connection, inputs.imports, inputs.decisions, withdrawn)
        check_accounts(connection, [m.import_id for m in active if landing.was_redacted(m)])
        save_plan_decisions(connection, root, active, inputs.joins)
        save_start_draws(connection, inputs.draws, inputs.joins)
        settings = PlanSettings(
            ceiling_percent=inputs.program.ceiling_percent,
            plan_percent=inputs.program.plan_percent,
            refer_percent=inputs.program.refer_percent,
        )
        run_results(opened, frames, settings, mass, give)


def fill_rows(
    opened: BuildUnderWay,
    root: Path,
    inputs: Inputs,
    active: Sequence[landing.Manifest],
    summarise: Summarise = in_place,
) -> None:
    """Fill the tables of people and of rows, as they were taken, held or recognised; nothing is fitted."""
    connection, progress, memo = opened.connection, opened.progress, opened.memo
    _save_measures(connection, inputs.catalogue)
    progress("people, camps and stays")
    stage_people(connection, root / "landing", active, inputs)
    progress("reading files")
    staged = stage_readings(root / "landing", active, inputs, memo)
    progress("checking rows")
    run_checks(connection, staged, inputs.catalogue, lambda trials: summarise(trials, memo))


def _save_measures(connection: duckdb.DuckDBPyConnection, catalogue: Catalogue) -> None:
    rows = [
        {
            "measure": m.key,
            "better": str(m.better),
            "summary": str(m.summary),
            "position": position,
            "published": "\n".join(m.published),
            **{
                key: getattr(m, key)
                for key in (
                    "label", "family", "unit", "kind", "resolution", "decimals", "trials", "keep",
                    "typical_error", "smallest_change", "hard_low", "hard_high", "source",
                )
            },
        }
        for position, m in enumerate(catalogue.measures.values())
    ]  # fmt: skip
    insert_frame(connection, "measure", pd.DataFrame(rows))


def _log(connection: duckdb.DuckDBPyConnection, inputs: Inputs, seconds: float) -> None:
    connection.execute(
        "insert into build_log values (?, now(), ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            inputs.build_id, seconds, inputs.code_version, inputs.catalogue.digest, inputs.landing_digest,
            inputs.decisions_digest, inputs.program.name, inputs.program.invented, inputs.program.clock,
        ],
    )  # fmt: skip


def _summary(path: Path, inputs: Inputs, seconds: float, *, unchanged: bool) -> BuildSummary:
    with open_read_only(path) as connection:
        counts = connection.execute(read_sql("read/counts.sql")).fetchone()
    if counts is None:
        raise LatewoodError("the new build cannot be counted; run `latewood build --fresh`")
    return BuildSummary(
        build_id=inputs.build_id,
        seconds=seconds,
        unchanged=unchanged,
        imports=len(inputs.imports),
        readings=counts[0],
        held=counts[1],
        athletes=counts[2],
    )
