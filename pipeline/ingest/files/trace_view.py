"""Reads trials of a landed trace file again, to be drawn: one of them by its own lines, or all of the file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import LandingError
from latewood.pipeline.ingest.files.landing import Manifest, read_file, read_manifest
from latewood.pipeline.ingest.files.mapping import FIELDS, Mapping, parse_mapping
from latewood.pipeline.ingest.files.reading import TextTable
from latewood.pipeline.ingest.files.shape import columns_of
from latewood.pipeline.ingest.files.trace_cells import settings_of
from latewood.pipeline.ingest.files.trace_trials import TraceTrial, open_traces, trial_texts, trials_of
from latewood.pipeline.ingest.program import program_catalogue
from latewood.pipeline.stats.movement.trace_curves import DrawnTrial, drawn_trial


def read_drawn_trial(root: Path, import_id: str, row_no: int) -> DrawnTrial:
    """Return the trial of a trace file that begins on a line, with its curves.

    Raises LandingError where the file or the trial is not there, FileUnreadableError where it cannot be read.
    """
    file = _opened(root, import_id)
    return _drawn(_trial(file, row_no), file.mapping)


def read_drawn_trials(root: Path, import_id: str) -> dict[int, DrawnTrial]:
    """Every trial of a trace file by the line on which it begins; the file is read once. Raises LatewoodError."""
    file = _opened(root, import_id)
    trials = trials_of(file.name, file.table, file.mapping, file.catalogue)
    return {trial.row_no: _drawn(trial, file.mapping) for trial in trials}


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedFile:
    """A landed trace file: its table, and what reads it."""

    name: str
    table: TextTable
    mapping: Mapping
    catalogue: Catalogue


def _opened(root: Path, import_id: str) -> OpenedFile:
    manifest = _manifest(root / "landing", import_id)
    catalogue = program_catalogue(root)
    mapping = parse_mapping(manifest.mapping_text, manifest.mapping_name, catalogue)
    table = open_traces(manifest.file_name, read_file(root / "landing", manifest), mapping)
    return OpenedFile(name=manifest.file_name, table=table, mapping=mapping, catalogue=catalogue)


def _drawn(trial: TraceTrial, mapping: Mapping) -> DrawnTrial:
    channels = {channel.measure: channel.values for channel in trial.channels}
    return drawn_trial(trial.stamps, channels, trial.event, settings_of(mapping), trial.marks)


def _manifest(landing: Path, import_id: str) -> Manifest:
    result = next(landing.glob(f"*/{import_id}.json"), None) if import_id.isalnum() else None
    if result is None:
        raise LandingError(f"landing holds no import {import_id!r}; build again, or restore it from a backup")
    return read_manifest(result)


def _trial(file: OpenedFile, row_no: int) -> TraceTrial:
    name, table, mapping = file.name, file.table, file.mapping
    fields = columns_of(name, table, mapping, *FIELDS["traces"])
    texts = trial_texts(name, table, fields, mapping.trace.named(name))
    begins = texts["row_no"] == row_no
    keys = texts.drop(columns="row_no")
    mine = (keys == keys[begins].iloc[0]).all(axis=1) if begins.any() else begins
    lines = tuple(int(line) for line in texts.loc[mine, "row_no"])
    part = TextTable(frame=table.frame[mine], lines=lines, notes=table.notes, units=table.units)
    trials = trials_of(name, part, mapping, file.catalogue)
    result = next((trial for trial in trials if trial.row_no == row_no), None)
    if result is None:
        raise LandingError(f"{name}: has no trial that begins on line {row_no}; build again")
    return result
